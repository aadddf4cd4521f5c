"""The demo: every machine, its questions in one screen each, and the commands that say more."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from wreckwright.acts.ask import Question
from wreckwright.acts.tour import Tour, tour
from wreckwright.cli import demo
from wreckwright.cli.app import cli

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


@pytest.fixture(scope="module", params=demo.MACHINES)
def told(request: pytest.FixtureRequest) -> tuple[Tour, list[str]]:
    answers = tour(Question(path=EXAMPLES / request.param, n_futures=200), tell=lambda _: None)
    return answers, demo.tour_lines(answers, f"examples/{request.param}")


def test_a_bought_machine_is_judged_and_a_lot_gets_a_bid(told: tuple[Tour, list[str]]) -> None:
    answers, _ = told
    assert (answers.verdict is None, answers.bid is None) == ((False, True) if answers.shown.bought else (True, False))


def test_each_machine_fits_on_a_screen_and_says_why(told: tuple[Tour, list[str]]) -> None:
    answers, lines = told
    text = " ".join(" ".join(lines).split())
    assert max(map(len, lines)) <= 80
    assert len(lines) <= 50
    for answer in (answers.foresight, answers.verdict, answers.bid, answers.fit):
        assert answer is None or answer.why in text


def test_the_commands_it_names_exist(told: tuple[Tour, list[str]], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(EXAMPLES.parent)
    commands = [shlex.split(line.split(demo.COMMAND)[1]) for line in told[1] if line.startswith("  $ ")]
    assert len(commands) == 3
    for command, file in commands:
        assert command in cli.commands
        assert CliRunner().invoke(cli, ["check", file]).exit_code == 0


def test_without_its_files_it_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert demo.main(str(tmp_path)) == 1
    assert "no such file" in capsys.readouterr().err
