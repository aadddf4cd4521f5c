"""Writes the parts of the documentation that the program itself knows, and finds those that are out of date.

    python docs/refresh.py          write docs/cli-reference.md, and the outputs shown in README.md
    python docs/refresh.py --check  write nothing; 1 if the reference is out of date

Run it with the interpreter in which the program runs (`.venv/bin/python`). The tests compare as well.
"""

from __future__ import annotations

import ast
import datetime as dt
import inspect
import os
import re
import shlex
import sys
import tempfile
import types
import typing
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Literal

import click
import msgspec
from click.testing import CliRunner

from wreckwright.acts import views
from wreckwright.acts.journal import Journal
from wreckwright.acts.page_shapes import MachinesPage
from wreckwright.acts.plan_shapes import HandsPage
from wreckwright.acts.tell_work import LooseList
from wreckwright.acts.tour import Tour
from wreckwright.answers import plan_types
from wreckwright.answers import types as answers
from wreckwright.cli.app import SECTIONS, cli

ROOT = Path(__file__).resolve().parent.parent
REFERENCE = ROOT / "docs" / "cli-reference.md"
README = ROOT / "README.md"
PREFIX = "python3 run.py wreckwright "
QUESTIONS: dict[str, type[msgspec.Struct]] = {
    "answers": Tour,
    "check": views.Checked,
    "show": views.Shown,
    "foresight": answers.Foresight,
    "verdict": answers.Verdict,
    "bid": answers.Bid,
    "fit": answers.FitList,
    "plan": plan_types.RunningOrder,
    "tonight": plan_types.Tonight,
}
"""Questions to one machine, and what each answers."""
ANSWER_OF: dict[str, type[msgspec.Struct]] = QUESTIONS | {
    "card": plan_types.JobCard, "loose": LooseList, "hands": HandsPage, "list": MachinesPage, "changes": Journal,
}
"""Every command with `--json`."""
SESSION = re.compile(r"```console\n(?P<lines>\$ .*?)```", re.DOTALL)
SHOWN_COMMAND = re.compile(r"^\$ (?P<command>[^\n]+)\n(?P<output>.*?)(?=^\$ |\Z)", re.DOTALL | re.MULTILINE)
PLAIN = {str: "text", int: "whole number", float: "number", bool: "true or false", type(None): "null"}
PLAIN |= {dt.datetime: "instant (ISO 8601, UTC)"}

INTRODUCTION = """\
# The command line

Made by `docs/refresh.py` from the program's own help and result types; do not edit by hand.

A machine is named by its nickname in the memory, or by the path of a record file: a name with a path separator, or one
that ends in `.toml` or `.json`, is a file. The memory lies in the data folder: that of `--data DIR` before the command,
else of the environment variable `WRECKWRIGHT_DATA`, else the usual place of this computer for a user's data.

Answers are plain sentences, and with `--json` they go to another program. The keys below are kept: a key may be added,
none changes its meaning or goes away without a new major version.

| exit code | meaning |
| --- | --- |
| 0 | answered, or done; `serve` and `demo`: closed with Ctrl-C |
| 1 | something the user can put right: the record, a name that is not there, a data folder that cannot be used, a \
change that cannot be taken back any more; said on the error stream, and nothing was written |
| 2 | the command itself is wrong: an option, a value, a missing name, or a question that has to be answered with an \
option such as `--yes` where nobody can be asked |
| 70 | a fault of the program; set `WRECKWRIGHT_TRACE=1` to see where |
| 130 | interrupted |

Money is a whole number of minor units (`*_minor`: cents, pence) of `currency`; chances and shares are 0 to 1; lengths
of time carry their unit; dates are ISO 8601. `*_se` is how much other draws would move the figure before it. `null`
means that there is no such figure, never nought. A wait longer than the calendar has no date.
"""


def help_of(words: list[str]) -> str:
    return CliRunner().invoke(cli, [*words, "--help"], prog_name="wreckwright", terminal_width=80).output.rstrip()


def said_type(hint: Any) -> str:
    """A type as a reader of JSON would name it; structs by their name."""
    origin, inner = typing.get_origin(hint), typing.get_args(hint)
    if hint in PLAIN:
        return PLAIN[hint]
    if origin is Literal:
        return " / ".join(f"`{value}`" for value in inner)
    if origin in (typing.Union, types.UnionType):
        return " or ".join(said_type(one) for one in inner)
    if origin is tuple:
        return f"list of {said_type(inner[0])}"
    if origin is dict:
        return f"table of {said_type(inner[1])}"
    # What a command answers stands under that command.
    anchor = next((command for command, answer in ANSWER_OF.items() if answer is hint), hint.__name__.lower())
    return f"[{hint.__name__}](#{anchor})"


def structs_in(hint: Any) -> Iterator[type[msgspec.Struct]]:
    if isinstance(hint, type) and issubclass(hint, msgspec.Struct):
        yield hint
    for inner in typing.get_args(hint):
        yield from structs_in(inner)


def field_words(struct: type[msgspec.Struct]) -> dict[str, str]:
    """Field -> the words written under it in the source, bases included."""
    words: dict[str, str] = {}
    for base in reversed(struct.__mro__):
        if base.__module__.split(".")[0] != "wreckwright":
            continue
        body = ast.parse(inspect.getsource(base)).body[0]
        assert isinstance(body, ast.ClassDef)
        for field, after in zip(body.body, [*body.body[1:], None], strict=True):
            if isinstance(field, ast.AnnAssign) and isinstance(field.target, ast.Name):
                said = isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant) and after.value.value
                words[field.target.id] = " ".join(str(said).split()) if said else ""
    return words


def keys_table(struct: type[msgspec.Struct]) -> list[str]:
    words, hints = field_words(struct), typing.get_type_hints(struct)
    rows = [f"| `{field}` | {said_type(hints[field])} | {words[field]} |" for field in struct.__struct_fields__]
    return ["| key | value | meaning |", "| --- | --- | --- |", *rows]


def first_paragraph(struct: type[msgspec.Struct]) -> str:
    return " ".join((inspect.getdoc(struct) or "").split("\n\n")[0].split())


def cli_reference() -> str:
    lines = [INTRODUCTION, "```text", help_of([]), "```", ""]
    for title, offers in SECTIONS.items():
        lines += [f"## {title}", ""]
        for name in offers:
            lines += [f"### {name}", "", "```text", help_of([name]), "```", ""]
            struct = ANSWER_OF.get(name)
            if struct:
                lines += [f"With `--json`: {struct.__name__}.", "", *keys_table(struct), ""]
    lines += ["## Shapes used above", ""]
    shown = set(ANSWER_OF.values())
    waiting = [one for struct in ANSWER_OF.values() for one in nested(struct)]
    while waiting:
        struct = waiting.pop(0)
        if struct not in shown:
            shown.add(struct)
            about = [first_paragraph(struct), ""] if struct.__dict__.get("__doc__") else []
            lines += [f"### {struct.__name__}", "", *about, *keys_table(struct), ""]
            waiting += nested(struct)
    return "\n".join(lines).rstrip() + "\n"


def nested(struct: type[msgspec.Struct]) -> list[type[msgspec.Struct]]:
    return [one for hint in typing.get_type_hints(struct).values() for one in structs_in(hint)]


def printed(commands: Sequence[str]) -> list[str]:
    """What the commands of one block print now, run one after the other from the top folder on an empty memory."""
    before = os.getcwd()
    os.chdir(ROOT)
    try:
        with tempfile.TemporaryDirectory() as folder:
            runner = CliRunner(env={"WRECKWRIGHT_DATA": folder})
            return [runner.invoke(cli, words_of(one), prog_name="wreckwright").stdout for one in commands]
    finally:
        os.chdir(before)


def words_of(command: str) -> list[str]:
    if not command.startswith(PREFIX):
        raise click.UsageError(f"{command!r} does not begin with {PREFIX!r}")
    return shlex.split(command.removeprefix(PREFIX))


def shown_in(text: str) -> list[list[tuple[str, str]]]:
    """(command, output) of all commands of every block of a text that shows commands with their output."""
    return [in_block(found["lines"]) for found in SESSION.finditer(text)]


def in_block(lines: str) -> list[tuple[str, str]]:
    return [(one["command"], one["output"]) for one in SHOWN_COMMAND.finditer(lines)]


def with_fresh_outputs(text: str) -> str:
    def fresh(found: re.Match[str]) -> str:
        commands = [command for command, _ in in_block(found["lines"])]
        shown = zip(commands, printed(commands), strict=True)
        return "```console\n" + "".join(f"$ {command}\n{output}" for command, output in shown) + "```"

    return SESSION.sub(fresh, text)


def main(words: list[str]) -> int:
    if words == ["--check"]:
        fresh = REFERENCE.read_text(encoding="utf-8") == cli_reference()
        print("up to date" if fresh else f"{REFERENCE.name} is out of date: run docs/refresh.py")
        return 0 if fresh else 1
    REFERENCE.write_text(cli_reference(), encoding="utf-8")
    README.write_text(with_fresh_outputs(README.read_text(encoding="utf-8")), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
