"""Questions to a record of a few lines: output, JSON, pictures, mistakes; and what is loaded for them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from docs.refresh import QUESTIONS
from wreckwright.cli.app import SECTIONS, cli

SOURCES = str(Path(__file__).resolve().parents[2] / "src")
EVERY = [name for offers in SECTIONS.values() for name in offers]
MEMORY = ("sqlalchemy", "alembic", "starlette", "uvicorn", "jinja2", "PIL", "multiprocessing", "wreckwright.web")
COMMANDS = sorted(QUESTIONS)
FROM_FUTURES = ("answers", "bid", "foresight", "plan", "tonight", "verdict")
RECORD = """\
nickname = "Thistle"
machine_class = "naked"
year = 2016
as_of = 2026-03-02
what_hit = ["left"]
findings = ["tank dented"]
market.sound_value_minor = 400000
purchase = { bought = true, price_minor = 120000 }
"""


@pytest.fixture
def record(tmp_path: Path) -> str:
    file = tmp_path / "thistle.toml"
    file.write_text(RECORD, encoding="utf-8")
    return str(file)


def run(*words: str) -> Result:
    few = ("--futures", "200") if words[0] in FROM_FUTURES and "--futures" not in words else ()
    return CliRunner().invoke(cli, [*words, *few])


def answered(*words: str) -> str:
    result = run(*words)
    assert result.exit_code == 0, result.stderr
    return result.stdout


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_answers_in_lines_that_fit(command: str, record: str) -> None:
    lines = answered(command, record).splitlines()
    assert "Thistle" in lines[0] + lines[1]
    # Where the name of the file stands in a line, it is not broken.
    assert max(len(line.replace(record, "")) for line in lines) <= 80
    assert "Traceback" not in "\n".join(lines)


@pytest.mark.parametrize("command", COMMANDS)
def test_json_has_the_documented_keys_in_their_order(command: str, record: str) -> None:
    said = json.loads(answered(command, record, "--json"))
    # docs/cli-reference.md is made from the same structs, and tests/test_docs.py compares it.
    assert tuple(said) == QUESTIONS[command].__struct_fields__
    assert (said["shown"] if command == "answers" else said)["nickname"] == "Thistle"


@pytest.mark.parametrize("command", COMMANDS)
def test_the_same_question_gets_the_same_bytes(command: str, record: str) -> None:
    assert answered(command, record, "--json") == answered(command, record, "--json")


def test_the_day_can_be_given_and_the_answer_prints_it(record: str) -> None:
    assert "as of 2026-03-02" in answered("show", record)
    assert "as of 2026-05-20" in answered("show", record, "--as-of", "2026-05-20")
    assert json.loads(answered("foresight", record, "--json", "--as-of", "2026-05-20"))["as_of"] == "2026-05-20"


def test_the_number_of_futures_can_be_given(record: str) -> None:
    assert json.loads(answered("bid", record, "--json", "--futures", "300"))["n_futures"] == 300


@pytest.mark.parametrize("command", ["foresight", "bid"])
def test_a_picture_is_written_beside_the_answer(command: str, record: str, tmp_path: Path) -> None:
    out = tmp_path / "out.svg"
    result = run(command, record, "--json", "--plot", str(out))
    assert result.exit_code == 0, result.stderr
    json.loads(result.stdout)
    root = ElementTree.parse(out).getroot()
    assert "Thistle" in (root.findtext("{http://www.w3.org/2000/svg}desc") or "")


def test_a_picture_of_another_kind_is_refused_before_any_work(record: str, tmp_path: Path) -> None:
    result = run("bid", record, "--plot", str(tmp_path / "out.png"))
    assert result.exit_code == 2
    assert "a name ending in .svg" in result.stderr
    assert result.stdout == ""


def test_a_picture_that_cannot_be_written_is_told(record: str, tmp_path: Path) -> None:
    result = run("bid", record, "--plot", str(tmp_path / "no such folder" / "out.svg"))
    assert result.exit_code == 1
    assert "cannot be written" in result.stderr
    assert "Traceback" not in result.stderr


def test_a_model_pack_changes_the_figures(record: str, tmp_path: Path) -> None:
    pack = tmp_path / "pack.toml"
    pack.write_text('[[components]]\nid = "fuel_tank_shell"\nname_uk = "Petrol box"\n', encoding="utf-8")
    assert "Petrol box" in answered("show", record, "--pack", str(pack))
    assert "Petrol box" not in answered("show", record)


def no_file(tmp_path: Path) -> None:
    return None


def folder(tmp_path: Path) -> None:
    (tmp_path / "bad.toml").mkdir()


def holding(content: bytes) -> Callable[[Path], None]:
    def write(tmp_path: Path) -> None:
        (tmp_path / "bad.toml").write_bytes(content)

    return write


BAD: dict[str, tuple[Callable[[Path], None], str]] = {
    "no such file": (no_file, "no such file"),
    "a folder": (folder, "folder"),
    "empty": (holding(b""), "nickname"),
    "not TOML": (holding(b"nickname = = 3"), "line 1"),
    "not UTF-8": (holding(b'nickname = "\xff\xfe"'), "UTF-8"),
    "wrong type": (holding(RECORD.replace("2016", '"old"').encode()), "year"),
    "unknown key": (holding((RECORD + "colour = 1\n").encode()), "colour"),
    "unknown class": (holding(RECORD.replace('"naked"', '"boat"').encode()), "boat"),
    "negative sum": (holding(RECORD.replace("120000", "-5").encode()), "price_minor"),
    "not a number": (holding((RECORD + "odometer = nan\n").encode()), "odometer"),
}


@pytest.mark.parametrize(
    ("command", "name"), [("foresight", name) for name in BAD] + [(command, "wrong type") for command in COMMANDS]
)
def test_a_bad_record_is_told_in_words_with_exit_code_1(command: str, name: str, tmp_path: Path) -> None:
    write, told = BAD[name]
    write(tmp_path)
    result = run(command, str(tmp_path / "bad.toml"))
    assert result.exit_code == 1
    assert told in result.stderr
    assert "allowed" in result.stderr and "do:" in result.stderr
    assert result.stdout == ""
    assert "Traceback" not in result.stderr


def test_check_gives_the_problems_as_json(tmp_path: Path) -> None:
    holding(RECORD.replace("2016", "19").encode())(tmp_path)
    result = run("check", str(tmp_path / "bad.toml"), "--json")
    assert result.exit_code == 1
    said = json.loads(result.stdout)
    assert said["good"] is False
    assert "year" in said["problems"][0]["where"] and said["problems"][0]["found"].startswith("19")


@pytest.mark.parametrize("content", [b"components = 3", b"\xff", b"[[no_such_table]]\nid = 1\n", None])
def test_a_bad_model_pack_is_told_in_words_with_exit_code_1(content: bytes | None, record: str, tmp_path: Path) -> None:
    pack = tmp_path / "pack.toml"
    if content is not None:
        pack.write_bytes(content)
    result = run("show", record, "--pack", str(pack))
    assert result.exit_code == 1
    assert "allowed" in result.stderr
    assert "Traceback" not in result.stderr


@pytest.mark.parametrize(
    "words",
    [
        ("foresight",),
        ("foresight", "a.toml", "b.toml"),
        ("foresight", "a.toml", "--futures", "many"),
        ("foresight", "a.toml", "--futures", "3"),
        ("foresight", "a.toml", "--futures", "1000000"),
        ("foresight", "a.toml", "--as-of", "yesterday"),
        ("foresight", "a.toml", "--as-of", "2026-02-30"),
        ("verdict", "a.toml", "--plot", "a.svg"),
        ("mend", "a.toml"),
        ("--loud",),
    ],
)
def test_a_wrong_command_ends_with_2(words: tuple[str, ...]) -> None:
    result = run(*words)
    assert result.exit_code == 2
    assert "Error:" in result.stderr or "allowed:" in result.stderr
    assert "Traceback" not in result.stderr


HEAVY = (
    "numpy",
    "scipy",
    "msgspec",
    "tomllib",
    "csv",
    "platformdirs",
    "sqlalchemy",
    "alembic",
    "starlette",
    "uvicorn",
    "jinja2",
    "PIL",
    "multiprocessing",
    "wreckwright.trade",
    "wreckwright.record",
    "wreckwright.store",
    "wreckwright.web",
    "wreckwright.answers",
    "wreckwright.futures",
    "wreckwright.acts.ask",
    "sqlalchemy",
    "alembic",
    "starlette",
    "uvicorn",
    "jinja2",
    "PIL",
)


def loaded_by(words: list[str], names: tuple[str, ...], folder: Path) -> list[str]:
    """Which of `names` a command has imported when it ends well."""
    code = f"""
import sys
from wreckwright.cli.app import cli
try:
    cli({words!r})
except SystemExit as end:
    assert not end.code, end.code
print(*[name for name in {names!r} if name in sys.modules], file=sys.stderr)
"""
    environ = os.environ | {"PYTHONPATH": SOURCES, "WRECKWRIGHT_DATA": str(folder / "data")}
    done = subprocess.run([sys.executable, "-c", code], env=environ, capture_output=True, text=True, cwd=folder)
    assert done.returncode == 0, done.stderr
    return done.stderr.split()


@pytest.mark.parametrize("words", [["--help"], ["--version"], *([name, "--help"] for name in EVERY)])
def test_help_loads_nothing_that_only_answers_need(words: list[str], tmp_path: Path) -> None:
    assert loaded_by(words, HEAVY, tmp_path) == []


def test_the_list_of_commands_needs_none_of_their_modules(tmp_path: Path) -> None:
    modules = {f"wreckwright.cli.{offer.module}" for offers in SECTIONS.values() for offer in offers.values()}
    assert loaded_by(["--help"], tuple(modules), tmp_path) == []


@pytest.mark.parametrize("command", ["check", "show", "foresight", "fit", "answers"])
def test_a_question_to_a_file_loads_nothing_of_the_memory_and_makes_no_folder(
    command: str, record: str, tmp_path: Path
) -> None:
    # A memory that is there and cannot be opened would be told: it is not even looked at.
    data = tmp_path / "data"
    data.mkdir()
    (data / "wreckwright.sqlite").write_bytes(b"no database")
    few = ["--futures", "200"] if command in FROM_FUTURES else []
    assert loaded_by([command, record, *few], MEMORY, tmp_path) == []
    assert [path.name for path in data.iterdir()] == ["wreckwright.sqlite"]


def test_help_names_every_command_under_what_it_is_for() -> None:
    lines = answered("--help").splitlines()
    assert max(map(len, lines)) <= 80
    for title, offers in SECTIONS.items():
        below = lines[lines.index(f"{title}:") + 1 :][: len(offers)]
        assert [line.split()[0] for line in below] == list(offers)
        assert all(line.endswith(offer.words) for line, offer in zip(below, offers.values(), strict=True))


@pytest.mark.parametrize("command", EVERY)
def test_every_help_fits_a_terminal(command: str) -> None:
    assert max(map(len, answered(command, "--help").splitlines())) <= 80


def test_a_command_that_is_mistyped_is_told_the_nearest() -> None:
    result = run("verdikt", "a.toml")
    assert result.exit_code == 2
    assert "call verdict" in result.stderr


def test_the_data_folder_named_behind_the_command_is_told_where_it_goes() -> None:
    result = run("list", "--data", "x")
    assert result.exit_code == 2
    assert "before the command" in result.stderr


def test_the_version_is_the_one_of_the_package() -> None:
    import wreckwright

    assert answered("--version") == f"wreckwright {wreckwright.__version__}\n"
