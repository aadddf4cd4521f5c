"""Imports run one way, and the pure rooms touch nothing outside themselves (see docs/architecture.md)."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "src" / "wreckwright"

PURE = ("trade", "record", "bench", "futures", "plan", "answers")
MAY_IMPORT: dict[str, frozenset[str]] = {
    "trade": frozenset(),
    "bench": frozenset({"trade"}),
    "record": frozenset({"trade"}),
    "futures": frozenset({"record", "trade"}),
    "plan": frozenset({"futures", "record", "trade"}),
    "answers": frozenset({"plan", "futures", "record", "trade"}),
    "store": frozenset({"record", "trade"}),
    "acts": frozenset({"answers", "plan", "futures", "record", "trade", "store", "bench"}),
    "papers": frozenset({"acts"}),
    "web": frozenset({"acts", "papers"}),
    "cli": frozenset({"acts", "papers"}),
}
TYPES_ONLY = {room: frozenset(PURE) | MAY_IMPORT[room] for room in ("papers", "web", "cli")}
"""Under TYPE_CHECKING the faces may name the types of what acts hand them."""
STARTS = {("cli/serving.py", "wreckwright.web.server.serve")}
"""The one way from face to face: a command opens the pages."""
EVERYWHERE = frozenset({"errors"})
"""Modules beside the rooms that every room may import."""
BESIDE = frozenset({"errors", "settings", "bootstrap"})

OUTSIDE_WORLD = frozenset(
    "asyncio builtins fileinput getpass glob http importlib.resources io locale logging multiprocessing os pathlib "
    "platform random secrets select shelve shutil signal socket sqlite3 subprocess sys tempfile threading time urllib "
    "webbrowser".split()
)
OUTSIDE_WORLD_EXCEPT = {("trade/load.py", "importlib.resources")}
"""The loader reads the data that is packed with it."""
CLOCK_CALLS = frozenset({"now", "today", "utcnow", "fromtimestamp"})
CALLS = frozenset({"open", "print", "input", "breakpoint", "exec", "eval"})
KEYED_RANDOM = frozenset({"Generator", "Philox", "SeedSequence", "BitGenerator", "typing"})


def type_checking_nodes(tree: ast.Module) -> set[int]:
    inside: set[int] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and ast.unparse(node.test) in ("TYPE_CHECKING", "typing.TYPE_CHECKING"):
            inside |= {id(below) for statement in node.body for below in ast.walk(statement)}
    return inside


def imported(tree: ast.Module, *, module: str) -> Iterator[tuple[str, bool, int]]:
    """(dotted name, only for types, line) of every import, also those inside functions; relative ones made absolute."""
    for_types = type_checking_nodes(tree)
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield alias.name, id(node) in for_types, node.lineno
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                before = module.split(".")[: -node.level]
                base = ".".join([*before, base]).rstrip(".")
            for alias in node.names:
                yield f"{base}.{alias.name}", id(node) in for_types, node.lineno


def wrong_direction(source: str, *, path: str) -> list[str]:
    """Reasons why a file at `path` (below the package) imports what it must not."""
    parts = path.removesuffix(".py").split("/")
    room = parts[0]
    tree = ast.parse(source)
    found = []
    for name, for_types, line in imported(tree, module=".".join(["wreckwright", *parts])):
        words = name.split(".")
        if words[0] != "wreckwright" or len(words) < 2:
            continue
        other = words[1]
        if other == room or other in EVERYWHERE or other.startswith("__"):
            continue
        if len(parts) == 1:
            if room in BESIDE and room != "bootstrap":
                found.append(f"{path}:{line}: {room} lies below all rooms and must not import {other}")
            continue
        allowed = MAY_IMPORT[room]
        if for_types:
            allowed = TYPES_ONLY.get(room, allowed)
        elif room in ("acts", "web", "cli"):
            allowed = allowed | BESIDE
        if other not in allowed and (path, name) not in STARTS:
            found.append(f"{path}:{line}: {room} must not import {other}")
    return found


def impure(source: str, *, path: str) -> list[str]:
    """Reasons why a file of a pure room reaches outside: files, clock, environment, chance, globals, output."""
    tree = ast.parse(source)
    for_types = type_checking_nodes(tree)
    found = []
    for name, only_types, line in imported(tree, module=path.removesuffix(".py").replace("/", ".")):
        for banned in OUTSIDE_WORLD:
            hit = name == banned or name.startswith(banned + ".")
            if hit and not only_types and (path, banned) not in OUTSIDE_WORLD_EXCEPT:
                found.append(f"{path}:{line}: imports {banned}")
    for node in ast.walk(tree):
        if id(node) in for_types:
            continue
        if isinstance(node, ast.Global):
            found.append(f"{path}:{node.lineno}: writes the global {', '.join(node.names)}")
        elif isinstance(node, ast.Call):
            called = ast.unparse(node.func)
            last = called.rsplit(".", 1)[-1]
            if called in CALLS:
                found.append(f"{path}:{node.lineno}: calls {called}()")
            elif last in CLOCK_CALLS and "." in called:
                found.append(f"{path}:{node.lineno}: reads the clock by {called}()")
        elif isinstance(node, ast.Attribute):
            if ast.unparse(node.value) in ("np.random", "numpy.random") and node.attr not in KEYED_RANDOM:
                found.append(f"{path}:{node.lineno}: {ast.unparse(node)} is not a keyed stream")
    return found


def python_files(*rooms: str) -> list[str]:
    return sorted(str(file.relative_to(PACKAGE)) for room in rooms for file in (PACKAGE / room).rglob("*.py"))


ALL_FILES = sorted(str(file.relative_to(PACKAGE)) for file in PACKAGE.rglob("*.py"))


def test_every_room_has_its_rule() -> None:
    rooms = {folder.name for folder in PACKAGE.iterdir() if (folder / "__init__.py").exists()}
    assert rooms == set(MAY_IMPORT)


def test_the_rules_themselves_have_no_loop() -> None:
    done: set[str] = set()
    while len(done) < len(MAY_IMPORT):
        free = {room for room, others in MAY_IMPORT.items() if room not in done and others <= done}
        assert free, f"the rules run in a circle among {set(MAY_IMPORT) - done}"
        done |= free


@pytest.mark.parametrize("path", ALL_FILES)
def test_imports_run_one_way(path: str) -> None:
    assert wrong_direction((PACKAGE / path).read_text(encoding="utf-8"), path=path) == []


@pytest.mark.parametrize("path", python_files(*PURE))
def test_pure_rooms_reach_nothing_outside(path: str) -> None:
    assert impure((PACKAGE / path).read_text(encoding="utf-8"), path=path) == []


@pytest.mark.parametrize(
    ("path", "source", "reason"),
    [
        ("trade/load.py", "from wreckwright.record.types import Machine", "trade must not import record"),
        ("record/read.py", "import wreckwright.futures.scene", "record must not import futures"),
        ("futures/draw.py", "from wreckwright import answers", "futures must not import answers"),
        ("futures/draw.py", "from ..plan import order", "futures must not import plan"),
        ("answers/bid.py", "def f():\n    from wreckwright.acts import ask", "answers must not import acts"),
        ("bench/torque.py", "from wreckwright.record import types", "bench must not import record"),
        ("store/db.py", "from wreckwright.acts import ask", "store must not import acts"),
        ("acts/ask.py", "from wreckwright.cli.app import cli", "acts must not import cli"),
        ("acts/ask.py", "from wreckwright.papers import words", "acts must not import papers"),
        ("cli/app.py", "from wreckwright.answers.bid import bid", "cli must not import answers"),
        ("papers/words.py", "from wreckwright.cli import app", "papers must not import cli"),
        ("cli/serving.py", "from wreckwright.web import forms", "cli must not import web"),
        ("cli/app.py", "from wreckwright.web.server import serve", "cli must not import web"),
        ("web/app.py", "from wreckwright.cli.serving import serve", "web must not import cli"),
        ("record/read.py", "from wreckwright import settings", "record must not import settings"),
        ("errors.py", "from wreckwright.record.types import Machine", "errors lies below all rooms"),
    ],
)
def test_a_wrong_direction_is_caught(path: str, source: str, reason: str) -> None:
    assert [line for line in wrong_direction(source, path=path) if reason in line]


@pytest.mark.parametrize(
    ("path", "source"),
    [
        ("record/read.py", "from wreckwright.errors import RecordError"),
        ("answers/bid.py", "from wreckwright.futures.scene import Futures"),
        ("answers/bid.py", "from .types import Bid"),
        ("acts/ask.py", "from wreckwright.settings import DEFAULTS"),
        ("cli/app.py", "if TYPE_CHECKING:\n    from wreckwright.answers.types import Bid"),
        ("cli/app.py", "from wreckwright import __version__"),
        ("cli/serving.py", "from wreckwright.web.server import serve"),
    ],
)
def test_a_right_direction_passes(path: str, source: str) -> None:
    assert wrong_direction(source, path=path) == []


@pytest.mark.parametrize(
    ("source", "reason"),
    [
        ("import os.path", "imports os"),
        ("from pathlib import Path", "imports pathlib"),
        ("def f():\n    import sqlite3", "imports sqlite3"),
        ("from importlib import resources", "imports importlib.resources"),
        ("import random", "imports random"),
        ("import datetime as dt\nx = dt.date.today()", "reads the clock"),
        ("from datetime import datetime\nx = datetime.now()", "reads the clock"),
        ("x = open('a')", "calls open"),
        ("print('a')", "calls print"),
        ("import numpy as np\nx = np.random.rand(3)", "is not a keyed stream"),
        ("import numpy as np\nx = np.random.default_rng()", "is not a keyed stream"),
        ("def f():\n    global cache", "writes the global cache"),
    ],
)
def test_reaching_outside_is_caught(source: str, reason: str) -> None:
    assert [line for line in impure(source, path="futures/draw.py") if reason in line]


def test_only_the_trade_loader_may_read_packed_data() -> None:
    source = "from importlib import resources"
    assert impure(source, path="trade/load.py") == []
    assert impure(source, path="trade/types.py") != []


def test_keyed_streams_and_given_dates_pass() -> None:
    source = "import numpy as np\nx = np.random.Generator(np.random.Philox(key=1))\ny = dt.date(2026, 1, 2)"
    assert impure(source, path="futures/draws.py") == []
