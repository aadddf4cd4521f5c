"""Errors become words and exit codes in one place, and no traceback gets out."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from wreckwright.cli.guard import Guarded
from wreckwright.errors import (
    AnswerError,
    ConflictError,
    EntryError,
    NotThere,
    OperationError,
    Problem,
    RecordError,
    StoreError,
    TradeDataError,
    UsageError,
    WreckwrightError,
)
from wreckwright.settings import TRACE_VARIABLE

PROBLEMS = (
    Problem(where="line 3, year", found="19", allowed="a whole number from 1900 to 2100", do="write all four digits"),
    Problem(where="line 9, findings f2, severity", found="7 " * 60, allowed="1, 2 or 3", do="3 can hurt"),
)


def run(error: BaseException) -> tuple[int, str, str]:
    """What a command that raises `error` ends with: exit code, output, error output."""

    @click.group(cls=Guarded)
    def group() -> None:
        pass

    @group.command()
    def fails() -> None:
        click.echo("begun")
        raise error

    result = CliRunner().invoke(group, ["fails"])
    return result.exit_code, result.stdout, result.stderr


@pytest.mark.parametrize(
    ("error", "code"),
    [
        (RecordError(PROBLEMS, name="a.toml"), 1),
        (TradeDataError("components: row wheel has no zone", allowed="a zone", do="add one"), 1),
        (AnswerError("what was found cannot be", allowed="", do="look again"), 1),
        (WreckwrightError("cannot write"), 1),
        (NotThere("there is no change 'x'", allowed="a change that stands", do="look at the list"), 1),
        (EntryError("what: 'thing': no part", allowed="words that mean one part", do="name it", field="what"), 1),
        (StoreError("the disk is full", allowed="some room", do="make room"), 1),
        (ConflictError("it was changed since", conflicts=()), 1),
        (OperationError("it came twice"), 1),
        (UsageError("a picture cannot be written to 'a.png'", allowed="a name ending in .svg"), 2),
        (click.UsageError("no such option"), 2),
        (click.Abort(), 130),
        (KeyboardInterrupt(), 130),
        (ZeroDivisionError("division by zero"), 70),
        (MemoryError(), 70),
        (RecursionError("too deep"), 70),
        (AssertionError("a\nb"), 70),
    ],
)
def test_every_error_has_its_exit_code_and_no_traceback(error: BaseException, code: int) -> None:
    exit_code, out, err = run(error)
    assert exit_code == code
    assert out.strip() == "begun"
    assert err.strip()
    assert "Traceback" not in err
    assert max(len(line) for line in err.splitlines()) <= 80


def test_a_record_error_tells_all_problems_with_what_is_allowed_and_what_to_do() -> None:
    _, _, err = run(RecordError(PROBLEMS, name="a.toml"))
    assert "a.toml cannot be used; 2 things to put right:" in err
    for problem in PROBLEMS:
        for words in (problem.where, problem.allowed, problem.do):
            assert words in err


def test_a_fault_of_the_program_names_its_kind_and_how_to_see_more(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(TRACE_VARIABLE, raising=False)
    _, _, err = run(ZeroDivisionError("division by zero"))
    assert "ZeroDivisionError: division by zero" in err
    assert f"{TRACE_VARIABLE}=1" in err
    monkeypatch.setenv(TRACE_VARIABLE, "1")
    _, _, err = run(ZeroDivisionError("division by zero"))
    assert "Traceback" in err


def wreckwright(*words: str) -> list[str]:
    return [sys.executable, "-m", "wreckwright.cli", *words]


ENVIRON = os.environ | {"PYTHONPATH": str(Path(__file__).resolve().parents[2] / "src")}


def test_nobody_reading_the_output_is_no_fault() -> None:
    running = subprocess.Popen(wreckwright("--help"), stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=ENVIRON)
    assert running.stdout and running.stderr
    running.stdout.close()
    err = running.stderr.read()
    running.stderr.close()
    assert running.wait() in (0, 1)
    assert err == b""


def test_a_letter_that_the_terminal_lacks_is_no_fault(tmp_path: Path) -> None:
    record = tmp_path / "thorn.toml"
    record.write_text('nickname = "Do\u0142ek"\nmachine_class = "naked"\nyear = 2015\n', encoding="utf-8")
    done = subprocess.run(
        wreckwright("show", str(record)), capture_output=True, env=ENVIRON | {"PYTHONIOENCODING": "latin-1"}
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith(b"Do\\u0142ek: ")
