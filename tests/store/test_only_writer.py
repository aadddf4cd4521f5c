"""Only store/apply.py writes tables (and migrations, which make them): told from the source of every file."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parents[2] / "src" / "wreckwright"
WRITER = "store/apply.py"
MIGRATIONS = "store/versions/"

VERBS = frozenset({"insert", "update", "delete", "upsert", "insert_from_select", "bulk_insert"})
SQL = re.compile(
    r"\b(INSERT\s+(OR\s+\w+\s+)?INTO|REPLACE\s+INTO|UPDATE\s+(OR\s+\w+\s+)?\S+\s+SET|DELETE\s+FROM|MERGE\s+INTO"
    r"|TRUNCATE\s|DROP\s+TABLE|ALTER\s+TABLE|CREATE\s+(TEMP\w*\s+)?(TABLE|TRIGGER))",
    re.IGNORECASE,
)
WRITERS_DOOR = "writing"
"""`Store.writing()`, the write transaction: apply opens it, and nobody else needs to."""
DRIVERS = ("sqlite3", "psycopg")


def names_of(tree: ast.Module) -> tuple[dict[str, str], set[str]]:
    """Names under which a module knows things of SQLAlchemy -> what they are there; names of tables."""
    alchemy: dict[str, str] = {}
    tables: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                if alias.name.startswith(("sqlalchemy", "alembic")):
                    alchemy[alias.asname or alias.name.split(".")[0]] = alias.name
                elif alias.name == "wreckwright.store.schema":
                    tables.add(alias.asname or "wreckwright")
        elif isinstance(node, ast.ImportFrom):
            module = node.module or ""
            if module.startswith(("sqlalchemy", "alembic")):
                alchemy |= {alias.asname or alias.name: alias.name for alias in node.names}
            if module.endswith("store.schema") or module == "schema":
                tables |= {alias.asname or alias.name for alias in node.names}
            if module.endswith("store") or not module:
                tables |= {alias.asname or alias.name for alias in node.names if alias.name == "schema"}
    # A table under another name is still a table.
    for node in ast.walk(tree):
        if isinstance(node, ast.Assign) and root(node.value) in tables | alchemy.keys():
            tables |= {target.id for target in node.targets if isinstance(target, ast.Name)}
    return alchemy, tables


def root(node: ast.expr) -> str:
    """The name that an expression such as a.b[0].c() begins with."""
    while True:
        if isinstance(node, ast.Attribute | ast.Subscript):
            node = node.value
        elif isinstance(node, ast.Call):
            node = node.func
        else:
            return node.id if isinstance(node, ast.Name) else ""


def texts(tree: ast.Module) -> Iterator[tuple[int, str]]:
    """All strings but docstrings, with those of an f-string put together."""
    docs = set()
    parts = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            docs.add(id(node.value))
        if isinstance(node, ast.JoinedStr):
            parts |= {id(part) for part in node.values}
            yield (
                node.lineno,
                "".join(str(part.value) if isinstance(part, ast.Constant) else "x" for part in node.values),
            )
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs | parts:
            yield node.lineno, node.value


def writes(source: str, *, path: str) -> list[str]:
    """Places of a file that write to a database."""
    tree = ast.parse(source)
    alchemy, tables = names_of(tree)
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            called = node.func
            if isinstance(called, ast.Name) and alchemy.get(called.id) in VERBS:
                found.append(f"{path}:{node.lineno}: calls {called.id}()")
            elif isinstance(called, ast.Attribute) and called.attr in VERBS and root(called) in alchemy.keys() | tables:
                found.append(f"{path}:{node.lineno}: calls {ast.unparse(called)}()")
            elif isinstance(called, ast.Attribute) and called.attr == WRITERS_DOOR:
                found.append(f"{path}:{node.lineno}: opens a write transaction")
    found += [f"{path}:{line}: {text[:60]!r}" for line, text in texts(tree) if SQL.search(text)]
    return found


def drivers(source: str, *, path: str) -> list[str]:
    found = []
    for node in ast.walk(ast.parse(source)):
        names = [a.name for a in node.names] if isinstance(node, ast.Import) else []
        names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
        found += [f"{path}:{node.lineno}: imports {name}" for name in names if name.split(".")[0] in DRIVERS]
    return found


FILES = sorted(str(file.relative_to(PACKAGE).as_posix()) for file in PACKAGE.rglob("*.py"))


@pytest.mark.parametrize("path", [path for path in FILES if path != WRITER and not path.startswith(MIGRATIONS)])
def test_nothing_else_writes(path: str) -> None:
    source = (PACKAGE / path).read_text(encoding="utf-8")
    assert writes(source, path=path) == []
    if not path.startswith("store/"):
        assert drivers(source, path=path) == []


def test_the_writer_itself_is_found() -> None:
    source = (PACKAGE / WRITER).read_text(encoding="utf-8")
    found = writes(source, path=WRITER)
    assert sum("calls sa." in line for line in found) == source.count("sa.insert(") + source.count("sa.update(") > 5
    assert any("opens a write transaction" in line for line in found)


def test_nothing_is_ever_deleted() -> None:
    source = (PACKAGE / WRITER).read_text(encoding="utf-8")
    assert not any("delete" in line.lower() for line in writes(source, path=WRITER))


@pytest.mark.parametrize(
    "source",
    [
        "import sqlalchemy as sa\nsa.insert(t)",
        "import sqlalchemy\nsqlalchemy.delete(t)",
        "from sqlalchemy import update\nupdate(t)",
        "from sqlalchemy import insert as put\nput(t)",
        "from wreckwright.store.schema import machine\nmachine.update().where(x)",
        "from wreckwright.store import schema\nschema.change.insert()",
        "from wreckwright.store.schema import metadata\nmetadata.tables['change'].delete()",
        "from wreckwright.store.schema import machine\ntable = machine\ntable.insert()",
        "from .schema import machine\nmachine.insert()",
        "c.execute('insert  into machine values (1)')",
        "c.execute('INSERT OR IGNORE INTO machine VALUES (1)')",
        "c.execute(text('update machine set place = 1'))",
        "c.execute(f'DELETE FROM {table}')",
        "c.execute(f'UPDATE {table} SET a = {b}')",
        "c.execute('drop table machine')",
        "with store.writing() as c:\n    pass",
    ],
)
def test_a_write_elsewhere_is_caught(source: str) -> None:
    assert writes(source, path="acts/x.py")


@pytest.mark.parametrize(
    "source",
    [
        "names = set()\nnames.update(others)",
        "lines.insert(0, 'x')",
        "from wreckwright.store.schema import machine\nseen = {}\nseen.update(a=1)\nsa.select(machine)",
        '"""Insert into the list; update a set of them; delete from it."""',
        "say('Update the file and delete what is old')",
    ],
)
def test_what_writes_to_no_database_passes(source: str) -> None:
    assert writes(source, path="acts/x.py") == []


def test_a_driver_elsewhere_is_caught() -> None:
    assert drivers("import sqlite3", path="acts/x.py") and drivers("from psycopg import connect", path="web/x.py")
