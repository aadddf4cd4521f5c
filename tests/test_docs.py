"""What the documents say is what the program does."""

from __future__ import annotations

import inspect
import re
import tomllib
from pathlib import Path

import click
import pytest

import wreckwright
from docs.refresh import ANSWER_OF, REFERENCE, cli_reference, printed, shown_in
from wreckwright.acts.ask import Question, check
from wreckwright.cli.app import cli

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
PAGES = sorted([ROOT / "README.md", ROOT / "CHANGELOG.md", *(ROOT / "docs").rglob("*.md")])
DECISIONS = sorted((ROOT / "docs" / "decisions").glob("*.md"))
NUMBER = re.compile(r"\d[\d,]*(?:\.\d+)?")
NEAR = 0.03
"""Other processors add up in another order: figures in the README may differ by so much, or by one."""


def test_the_reference_is_what_the_program_says_of_itself() -> None:
    assert REFERENCE.read_text(encoding="utf-8") == cli_reference(), "run docs/refresh.py"


COMMANDS = {name: cli.get_command(click.Context(cli), name) for name in cli.list_commands(click.Context(cli))}


def test_the_list_of_commands_says_of_each_what_its_own_help_says_first() -> None:
    for name, command in COMMANDS.items():
        assert command is not None and command.name == name
        assert inspect.cleandoc(command.help or "").split("\n\n")[0].replace("\n", " ") == cli.offers[name].words


def test_every_command_has_help_with_an_example_and_its_keys_are_written_down() -> None:
    for name, command in COMMANDS.items():
        assert command is not None
        assert f": wreckwright {name}" in (command.help or "")
        options = [option for option in command.params if isinstance(option, click.Option)]
        assert all(option.help for option in options)
        assert (name in ANSWER_OF) == any(option.name == "as_json" for option in options)


SESSIONS = shown_in(README)


@pytest.mark.parametrize("session", SESSIONS, ids=[session[0][0].split()[3] for session in SESSIONS])
def test_readme_shows_what_the_program_prints(session: list[tuple[str, str]]) -> None:
    output = "\n".join(shown for _, shown in session)
    now = "\n".join(printed([command for command, _ in session]))
    assert re.sub(r"\s+", " ", NUMBER.sub("#", now)) == re.sub(r"\s+", " ", NUMBER.sub("#", output)), (
        "run docs/refresh.py"
    )
    for shown, fresh in zip(NUMBER.findall(output), NUMBER.findall(now), strict=True):
        before, after = (float(figure.replace(",", "")) for figure in (shown, fresh))
        assert abs(before - after) <= max(1.0, NEAR * abs(before)), (
            f"{shown} in README.md is {fresh} now: run docs/refresh.py"
        )


def test_readme_shows_the_three_questions_about_money_and_how_to_take_something_back() -> None:
    shown = [command.split()[3] for session in SESSIONS for command, _ in session]
    assert [one for one in shown if one in ("foresight", "verdict", "bid")] == ["foresight", "verdict", "bid"]
    assert {"load", "note", "undo"} <= set(shown)


def test_the_record_in_readme_can_be_used(tmp_path: Path) -> None:
    (written,) = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
    file = tmp_path / "sorrel.toml"
    file.write_text(written, encoding="utf-8")
    checked = check(Question(machine=file))
    assert checked.good and checked.rows == {"findings": 3}


def test_the_library_example_runs(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    monkeypatch.chdir(ROOT)
    for code in re.findall(r"```python\n(.*?)```", README, re.DOTALL):
        exec(compile(code, "README.md", "exec"), {})
    assert re.match(r"(\d+|None) [A-Z]{3} \S+", capsys.readouterr().out)


def test_readme_names_the_python_that_is_required() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert f"Python {project['requires-python'].removeprefix('>=')}" in README


def test_the_changelog_knows_the_version_or_calls_it_unreleased() -> None:
    text = (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")
    heads = re.findall(r"^## \[(.+?)\]", text, re.MULTILINE)
    assert heads[0] in ("Unreleased", wreckwright.__version__)
    # Every version has the heading of our own.
    assert text.count("### Numbers that change") == len(heads)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_lead_somewhere(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    anchors = {
        re.sub(r"[^\w -]", "", head).strip().lower().replace(" ", "-")
        for head in re.findall(r"^#+ (.+)$", text, re.MULTILINE)
    }
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if re.match(r"[a-z]+:", target):
            continue
        path, _, anchor = target.partition("#")
        assert (page.parent / path).exists(), target
        if anchor and not path:
            assert anchor in anchors, target


@pytest.mark.parametrize("page", DECISIONS, ids=lambda page: page.stem)
def test_a_decision_has_its_five_heads(page: Path) -> None:
    heads = re.findall(r"^## (.+)$", page.read_text(encoding="utf-8"), re.MULTILINE)
    five = ["Date", "Status", "Context", "Decision", "Consequences"]
    assert [head for head in heads if head in five] == five


def test_each_runtime_dependency_has_its_decision() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    names = {re.split(r"[^a-z0-9-]", line)[0] for line in project["dependencies"]}
    assert {f"dependency-{name}" for name in names} <= {page.stem for page in DECISIONS}
