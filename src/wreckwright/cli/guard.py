"""The one place where errors become words and exit codes. No traceback gets past it.

0    answered, or done
1    something the user can put right: a record, a name, what the memory says, a place to write to
2    the command itself is wrong
70   a fault of the program
130  interrupted
141  nobody reads the output any more
"""

from __future__ import annotations

import os
import sys
import textwrap
from collections.abc import Sequence
from typing import Any

import click

from wreckwright.errors import RecordError, UsageError, WreckwrightError
from wreckwright.settings import TRACE_VARIABLE

MISTAKE, USAGE, FAULT, INTERRUPTED = 1, 2, 70, 130
LABEL_COLUMNS = 11


class Guarded(click.Group):
    """A group of commands whose errors are all translated here."""

    def main(
        self,
        args: Sequence[str] | None = None,
        prog_name: str | None = None,
        complete_var: str | None = None,
        standalone_mode: bool = True,
        **extra: Any,
    ) -> Any:
        if not standalone_mode:
            return super().main(args, prog_name, complete_var, False, **extra)
        for stream in (sys.stdout, sys.stderr):
            if hasattr(stream, "reconfigure"):
                # A terminal that lacks a letter gets its code, not an error.
                stream.reconfigure(errors="backslashreplace")
        try:
            result = super().main(args, prog_name or "wreckwright", complete_var, False, **extra)
            sys.stdout.flush()
            code = result if isinstance(result, int) else 0
        except BaseException as error:
            code = translate(error)
        sys.exit(code)


def translate(error: BaseException) -> int:
    """Say what happened on the error stream, and give the exit code for it."""
    if isinstance(error, click.ClickException):
        error.show()
        if isinstance(error, click.NoSuchOption) and error.option_name == "--data":
            click.echo("It goes before the command: wreckwright --data DIR ...", err=True)
        return error.exit_code
    if isinstance(error, (click.Abort, KeyboardInterrupt)):
        click.echo("Interrupted; nothing was changed.", err=True)
        return INTERRUPTED
    if isinstance(error, BrokenPipeError):
        # The interpreter flushes once more at its end; give it somewhere to go.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return MISTAKE
    if isinstance(error, WreckwrightError):
        click.echo("\n".join(message(error)), err=True)
        return USAGE if isinstance(error, UsageError) else MISTAKE
    if isinstance(error, SystemExit):
        return error.code if isinstance(error.code, int) else MISTAKE
    if os.environ.get(TRACE_VARIABLE):
        import traceback

        click.echo("".join(traceback.format_exception(error)), err=True)
    click.echo("\n".join(apology(error)), err=True)
    return FAULT


def message(error: WreckwrightError) -> list[str]:
    """What is wrong, what is allowed, what to do; for a record, so for every problem in it."""
    if isinstance(error, RecordError):
        count = len(error.problems)
        lines = [f"{error.name or 'This record'} cannot be used; {count} thing{'s' if count > 1 else ''} to put right:"]
        for problem in error.problems:
            lines += [
                "",
                f"  {problem.where}",
                *labelled("found", problem.found),
                *labelled("allowed", problem.allowed),
                *labelled("do", problem.do),
            ]
        return lines
    return [
        *textwrap.wrap(f"Not done: {error.what}", 80, break_on_hyphens=False),
        *labelled("allowed", error.allowed),
        *labelled("do", error.do),
    ]


def labelled(label: str, words: str) -> list[str]:
    head = f"    {label}:".ljust(LABEL_COLUMNS + 2)
    return textwrap.wrap(head + words, 80, subsequent_indent=" " * len(head), break_on_hyphens=False) if words else []


def apology(error: BaseException) -> list[str]:
    said = " ".join(str(error).split())
    return [
        "Sorry: this is a fault of the program, not of your record. Nothing was changed.",
        *textwrap.wrap(f"{type(error).__name__}: {said}" if said else type(error).__name__, 80),
        f"To see where it happened, run the command again with {TRACE_VARIABLE}=1 set.",
    ]
