"""`serve` and `demo` as they are started by hand: a process of its own, its link, pages, and how it ends."""

from __future__ import annotations

import os
import re
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
import threading
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.cli.memory import Memory
from wreckwright.acts import demo
from wreckwright.acts.demo import demo_place, example, open_demo
from wreckwright.acts.machines import machines
from wreckwright.acts.place import Place, forget_open
from wreckwright.cli import serving
from wreckwright.cli.app import cli
from wreckwright.errors import StoreError

SOURCES = str(Path(__file__).resolve().parents[2] / "src")
LINK = re.compile(r"(http://127\.0\.0\.1:\d+/\S*)")
PATIENCE_S = 40.0
NOBODY = 65534
NAMES = ["Sorrel", "Bramble", "Magpie"]


class Running:
    """A started command that prints its link."""

    def __init__(self, *words: str) -> None:
        environ = {name: value for name, value in os.environ.items() if name not in ("DISPLAY", "WAYLAND_DISPLAY")}
        self.process = subprocess.Popen(
            [sys.executable, "-m", "wreckwright.cli", *words],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env=environ | {"PYTHONPATH": SOURCES, "PYTHONUNBUFFERED": "1"},
        )
        self.said = ""
        self.link = ""
        # Whatever goes wrong, a test ends.
        self.alarm = threading.Timer(PATIENCE_S, self.process.kill)
        self.alarm.start()
        assert self.process.stdout
        for line in self.process.stdout:
            self.said += line
            found = LINK.search(line)
            if found:
                self.link = found[1]
                return

    def get(self, path: str = "") -> tuple[int, str]:
        with urllib.request.urlopen(self.link + path, timeout=20) as answer:
            return answer.status, answer.read().decode()

    def end(self, how: signal.Signals = signal.SIGINT) -> int:
        """Exit code after a signal; what was printed is in `said`."""
        self.process.send_signal(how)
        assert self.process.stdout and self.process.stderr
        # Through the same reader as the lines before: what it has read ahead would be lost otherwise.
        rest, errors = self.process.stdout.read(), self.process.stderr.read()
        self.process.wait()
        self.alarm.cancel()
        self.said += rest + errors
        return self.process.returncode


@contextmanager
def started(*words: str) -> Iterator[Running]:
    running = Running(*words)
    try:
        assert running.link, running.said + running.process.communicate()[1]
        yield running
    finally:
        running.alarm.cancel()
        running.process.kill()
        running.process.communicate()


def test_serve_shows_the_machines_and_ends_with_ctrl_c_in_good_order(memory: Memory) -> None:
    memory.say("load", memory.thistle)
    with started("--data", str(memory.data), "serve", "--port", "0", "--no-open") as running:
        status, page = running.get()
        assert status == 200 and "Thistle" in page
        # Others may use the memory meanwhile.
        memory.say("load", memory.burdock)
        assert "Burdock" in running.get()[1]
        assert running.end() == 0
        assert "Ctrl-C" in running.said and "closed" in running.said
        assert "Traceback" not in running.said


def test_serve_begins_with_nothing(memory: Memory) -> None:
    with started("--data", str(memory.data), "serve", "--port", "0") as running:
        assert running.get()[0] == 200
        assert running.end() == 0
    assert memory.ask("list") == {"machines": []}


def test_what_was_told_survives_a_kill(memory: Memory) -> None:
    memory.say("load", memory.thistle)
    with started("--data", str(memory.data), "serve", "--port", "0") as running:
        running.get()
        memory.say("note", "Thistle", "seat torn")
        assert running.end(signal.SIGKILL) == -signal.SIGKILL
    forget_open(Place(memory.data))
    assert "seat torn" in memory.say("save", "Thistle")
    with started("--data", str(memory.data), "serve", "--port", "0") as running:
        assert "Thistle" in running.get()[1]
        assert running.end() == 0


def test_the_demo_keeps_what_was_done_in_it_until_it_is_to_be_fresh(memory: Memory) -> None:
    own = Memory(memory.folder)
    own.data = memory.folder / "data-demo"
    words = ("--data", str(memory.data), "demo", "--no-open", "--port", "0")
    with started(*words) as running:
        page = running.get()[1]
        assert all(name in page for name in NAMES)
        own.say("note", "Sorrel", "seat torn")
        assert running.end() == 0
        assert "Traceback" not in running.said
        assert str(own.data) in running.said
    with started(*words) as running:
        assert "seat torn" in own.say("save", "Sorrel")
        assert running.end() == 0
    forget_open(Place(own.data))
    with started(*words, "--fresh") as running:
        assert "seat torn" not in own.say("save", "Sorrel")
        assert running.end() == 0
    assert [one["nickname"] for one in own.ask("list")["machines"]] == NAMES
    # The user's own folder is not even made.
    assert not memory.data.exists()


@pytest.mark.parametrize("command", ["serve", "demo"])
def test_a_port_that_is_taken_is_told(memory: Memory, command: str) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = str(taken.getsockname()[1])
        result = memory.run(command, "--no-open", "--port", port)
    assert result.exit_code == 2
    assert port in result.stderr and "--port" in result.stderr and "allowed:" in result.stderr


@pytest.mark.parametrize("command", ["serve", "demo"])
def test_a_data_folder_that_is_a_file_is_told(memory: Memory, command: str) -> None:
    for name in ("data", "data-demo"):
        memory.file(name, "in the way")
    memory.refused(command, "--no-open", "--port", "0")
    assert (memory.folder / "data").read_text() == (memory.folder / "data-demo").read_text() == "in the way"


@pytest.mark.parametrize("command", ["serve", "demo"])
def test_a_memory_of_a_newer_program_is_told(memory: Memory, command: str) -> None:
    place = open_demo(Place(memory.data)) if command == "demo" else Place(memory.data)
    if command == "serve":
        memory.say("load", memory.thistle)
    forget_open(place)
    with sqlite3.connect(place.database) as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.close()
    assert "newer version" in memory.refused(command, "--no-open", "--port", "0")


@pytest.mark.parametrize("fresh", [False, True])
def test_a_folder_that_the_demo_did_not_make_is_left_alone(memory: Memory, fresh: bool) -> None:
    memory.data = memory.folder / "garage"
    (memory.folder / "garage-demo").mkdir()
    (memory.folder / "garage-demo" / "letters.txt").write_text("mine")
    assert "something else is there" in memory.refused("demo", "--no-open", *(["--fresh"] if fresh else []))
    assert [path.name for path in (memory.folder / "garage-demo").iterdir()] == ["letters.txt"]


def test_a_demo_that_was_interrupted_while_it_was_made_is_completed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    true_way, done = demo.load_record, []

    def second_fails(*arguments: object, **more: object) -> object:
        if done:
            raise KeyboardInterrupt
        done.append(1)
        return true_way(*arguments, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(demo, "load_record", second_fails)
    with pytest.raises(KeyboardInterrupt):
        open_demo(Place(tmp_path / "own"))
    monkeypatch.setattr(demo, "load_record", true_way)
    assert [one.nickname for one in machines(open_demo(Place(tmp_path / "own")))] == NAMES


def test_a_machine_that_was_taken_out_of_the_demo_stays_out(tmp_path: Path) -> None:
    own = open_demo(Place(tmp_path / "own"))
    result = CliRunner().invoke(cli, ["--data", str(own.folder), "undo", "Magpie"])
    assert result.exit_code == 0, result.stderr
    assert [one.nickname for one in machines(open_demo(Place(tmp_path / "own")))] == NAMES[:2]
    assert [one.nickname for one in machines(open_demo(Place(tmp_path / "own"), fresh=True))] == NAMES


def test_the_demo_lies_beside_the_users_folder_wherever_that_is() -> None:
    assert demo_place(Place(Path("/home/me/share/wreckwright"))).folder == Path("/home/me/share/wreckwright-demo")
    assert demo_place(Place(Path("/"))).folder == Path("/wreckwright-demo")


@pytest.mark.parametrize("fresh", [False, True])
@pytest.mark.parametrize("there", ["nothing", "an empty folder", "a demo half made", "a demo"])
def test_a_demo_folder_that_cannot_be_written_is_told(there: str, fresh: bool) -> None:
    if os.name == "nt":
        pytest.skip("POSIX permissions")
    with tempfile.TemporaryDirectory() as folder:
        place = Place(Path(folder) / "own")
        # Also so that everything is imported before the rights are gone.
        own = open_demo(place).folder
        forget_open(demo_place(place))
        if there == "nothing":
            shutil.rmtree(own)
        elif there == "an empty folder":
            shutil.rmtree(own)
            own.mkdir()
        elif there == "a demo half made":
            (own / "demo.txt").write_text("half")
        paths = [Path(folder), *Path(folder).rglob("*")]
        for path in paths:
            path.chmod(0o555 if path.is_dir() else 0o444)
        is_root = os.geteuid() == 0
        if is_root:
            os.seteuid(NOBODY)
        try:
            if there == "a demo" and not fresh:
                # Looking at what is there needs no right to write; the database says the rest.
                assert open_demo(place) == demo_place(place)
            else:
                with pytest.raises(StoreError, match="Permission denied"):
                    open_demo(place, fresh=fresh)
        finally:
            if is_root:
                os.seteuid(0)
            for path in paths:
                path.chmod(0o755)


def test_an_example_is_a_record_file(tmp_path: Path) -> None:
    for name in demo.MACHINES:
        with example(name) as path:
            shutil.copy(path, tmp_path)
        assert CliRunner().invoke(cli, ["check", str(tmp_path / f"{name}.toml")]).exit_code == 0


@pytest.mark.parametrize(
    ("words", "platform", "display", "opened"),
    [
        ([], "linux", "", False),
        ([], "linux", ":0", True),
        (["--no-open"], "linux", ":0", False),
        ([], "darwin", "", True),
        (["--no-open"], "win32", "", False),
    ],
)
def test_a_browser_is_opened_where_there_is_a_screen(
    memory: Memory, monkeypatch: pytest.MonkeyPatch, words: list[str], platform: str, display: str, opened: bool
) -> None:
    asked: list[dict[str, object]] = []
    monkeypatch.setattr("wreckwright.web.server.serve", lambda place, **more: asked.append({"place": place, **more}))
    monkeypatch.setattr(serving.sys, "platform", platform)
    monkeypatch.setenv("DISPLAY", display)
    monkeypatch.delenv("WAYLAND_DISPLAY", raising=False)
    for command in (["serve"], ["serve", "--lan"], ["demo"]):
        memory.say(*command, *words)
    assert [one["open_browser"] for one in asked] == [opened] * 3
    assert [one["pairing"] for one in asked] == [False, True, False]
    assert [one["place"] for one in asked] == [Place(memory.data)] * 2 + [Place(memory.folder / "data-demo")]
