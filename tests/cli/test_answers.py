"""`answers`: every question in a sentence, and the command that says more."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.cli.memory import Memory
from wreckwright.acts.ask import Question
from wreckwright.acts.demo import MACHINES
from wreckwright.acts.tour import Tour, tour
from wreckwright.cli.app import SECTIONS, cli
from wreckwright.cli.say_tour import COMMAND, tour_lines

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"


@pytest.fixture(scope="module", params=MACHINES)
def told(request: pytest.FixtureRequest) -> tuple[Tour, list[str]]:
    answers = tour(Question(machine=EXAMPLES / f"{request.param}.toml", n_futures=200), tell=lambda _: None)
    return answers, tour_lines(answers, f"examples/{request.param}.toml")


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
    commands = [shlex.split(line.split(f"$ {COMMAND} ")[1]) for line in told[1] if line.startswith("  $ ")]
    assert len(commands) == 3
    for command, file in commands:
        assert command in SECTIONS["Ask about one machine"]
        assert CliRunner().invoke(cli, ["check", file]).exit_code == 0


def test_a_nickname_of_two_words_is_named_so_that_it_can_be_pasted(memory: Memory) -> None:
    memory.say("load", memory.thistle, "--as", "Old Thistle")
    lines = memory.say("answers", "old thistle", "--futures", "200").splitlines()
    assert "  $ wreckwright foresight 'old thistle'" in lines
    assert lines[0].startswith("== Old Thistle ==")


def test_a_machine_in_the_memory_gets_the_answers_of_its_file(memory: Memory) -> None:
    memory.say("load", memory.thistle)
    for command in (["answers"], ["show"], ["fit"], ["verdict"], ["foresight"], ["bid"]):
        few = ["--futures", "200"] if command[0] not in ("show", "fit") else []
        assert memory.ask(*command, "Thistle", *few) == memory.ask(*command, memory.thistle, *few)
