"""Migration: nothing is lost, nothing is half done, a copy lies beside it, and the schema is that of today."""

from __future__ import annotations

import datetime as dt
import hashlib
import multiprocessing
import os
import re
import shutil
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing
from pathlib import Path

import pytest
import sqlalchemy as sa
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from tests.store import databases
from tests.store.databases import ARRIVED, BURDOCK, FENNEL, TEASEL, TOOK_AWAY_F2, ask, dump, first_schema, order
from wreckwright.errors import ConflictError, OperationError, StoreError
from wreckwright.record.types import Machine
from wreckwright.store import migrate as module
from wreckwright.store.apply import apply
from wreckwright.store.engine import Store, open_store, open_url
from wreckwright.store.images import in_current_format
from wreckwright.store.migrate import known, migrate, pending
from wreckwright.store.schema import metadata
from wreckwright.store.types import Draft, Operation, RowKey
from wreckwright.store.undo import undo

NOW = dt.datetime(2026, 11, 25, 20, 0, tzinfo=dt.UTC)
POSTGRES = "WRECKWRIGHT_TEST_POSTGRES"
COPY_NAME = re.compile(r"wreckwright-\d{8}T\d{6}Z-before-0002\.sqlite")


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A database of the first schema, as a version of that time left it."""
    path = first_schema(tmp_path / "wreckwright.sqlite")
    with open_store(path, create=False):
        return path


@pytest.fixture
def store(old: Path, tmp_path: Path) -> Iterator[Store]:
    """The same, migrated and open."""
    with open_store(old, create=False) as opened:
        migrate(opened, backups=tmp_path / "backups")
        yield opened


def try_to_migrate(path: Path, backups: Path) -> Path | None:
    with open_store(path, create=False) as opened:
        return migrate(opened, backups=backups)


def any_machine(_: Machine) -> None:
    """A check that finds nothing wrong."""


def with_step(monkeypatch: pytest.MonkeyPatch, folder: Path, body: str) -> None:
    """Let the program know a further step, 0003, with this body."""
    versions = shutil.copytree(module.VERSIONS, folder / "versions", ignore=shutil.ignore_patterns("__pycache__"))
    (versions / "0003_next.py").write_text(
        'import sqlalchemy as sa\nfrom alembic import op\nrevision = "0003"\ndown_revision = "0002"\n\n'
        f"def upgrade() -> None:\n{body}\n"
    )
    monkeypatch.setattr(module, "VERSIONS", versions)


# ---- What comes out ------------------------------------------------------------------------------------------------


def test_the_old_database_says_the_same_machines(store: Store) -> None:
    assert pending(store) == ()
    with store.reading() as reader:
        assert reader.machine(TEASEL) == databases.teasel()
        # Hand-worked: taken in were Teasel, Burdock (taken away again), Fennel; by uid it is the other way round.
        assert [(head.nickname, head.place) for head in reader.machines()] == [("Teasel", 0), ("Fennel", 2)]
        assert reader.find("FENNEL") == FENNEL
        assert reader.find("Burdock") is None


def test_the_journal_is_there_word_for_word(old: Path, store: Store) -> None:
    with store.reading() as reader:
        changes = reader.changes()
        images = reader.images(TOOK_AWAY_F2)
        photos = reader.photos()
    # Hand-worked from the golden file, newest first; no change of that time took another one back.
    assert [change.what for change in changes] == [
        "Changed finding f3: can hurt",
        "Took away Burdock",
        "Took in Fennel",
        "Took in Burdock",
        "Arrived: lever, short",
        "Noted: clutch lever bent",
        "Took away finding f2: tank scratched",
        "Snag: Schraube rund gedreht, M6 – links",
        "Took in Teasel from teasel.toml",
    ]
    assert {(change.undoes, change.undone_by) for change in changes} == {(None, None)}
    assert changes[-2].at == dt.datetime(2026, 10, 11, 17, 42, 7, 250_000, tzinfo=dt.UTC)
    assert changes[1].machines == (BURDOCK,)
    (image,) = images
    assert (image.key.handle, image.rev, image.after) == ("f2", 2, None)
    assert image.before == {"id": "f2", "severity": 1, "what": "tank scratched"}
    assert photos == {"9f2e6c1db0a54877e1c3f2d4b5a69788796a5b4c3d2e1f00112233445566778a"}


def test_nothing_else_was_touched(old: Path, tmp_path: Path) -> None:
    asked = (
        "SELECT uid, nickname, nickname_key FROM machine ORDER BY uid",
        "SELECT id, seq, at, who, what FROM change ORDER BY seq",
        "SELECT * FROM record_row ORDER BY machine, kind, handle",
        "SELECT * FROM row_image ORDER BY machine, kind, handle, rev",
        "SELECT * FROM operation ORDER BY device, op",
    )
    before = [ask(old, sql) for sql in asked]
    try_to_migrate(old, tmp_path / "backups")
    assert [ask(old, sql) for sql in asked] == before
    assert min(map(len, before)) == 3
    assert ask(old, "PRAGMA foreign_key_check") == []


def test_an_old_change_can_be_taken_back(store: Store) -> None:
    outcome = undo(store, change_id=ARRIVED, who="bench", at=NOW, check=any_machine)
    undo(store, change_id=TOOK_AWAY_F2, who="bench", at=NOW, check=any_machine)
    with store.reading() as reader:
        now = reader.machine(TEASEL)
        arrived = reader.change(ARRIVED)
        revs = reader.row(RowKey(machine=TEASEL, kind="findings", handle="f2"))
    assert [part.state for part in now.parts] == ["ordered"]
    assert [finding.id for finding in now.findings] == ["f1", "f2", "f3"]
    assert revs is not None and revs.rev == 3
    assert arrived is not None and arrived.undone_by == outcome.change_id
    with pytest.raises(ConflictError) as caught:
        undo(store, change_id=databases.NOTED_F3, who="bench", at=NOW, check=any_machine)
    assert [conflict.since for conflict in caught.value.conflicts] == ["Changed finding f3: can hurt"]


def test_a_telephone_that_sends_an_old_tap_again_gets_its_old_answer(store: Store) -> None:
    def never(_: object) -> Draft:
        raise AssertionError("the tap was carried out a second time")

    def sent(op: str) -> Operation:
        return Operation(device="7c1e90aa", op=op, body_hash=hashlib.sha256(op.encode()).hexdigest())

    again = apply(store, who="x", at=NOW, draft=never, check=any_machine, operation=sent("op-4f6b2a90d1c3"))
    assert (again.replayed, again.change_id) == (True, "a7a015db96ca8382")
    assert again.result == {"handle": "tap1", "said": "Snag kept"}
    nothing = apply(store, who="x", at=NOW, draft=never, check=any_machine, operation=sent("op-c1e2d3f4a5b6"))
    assert (nothing.replayed, nothing.change_id) == (True, None)
    other = Operation(device="7c1e90aa", op="op-4f6b2a90d1c3", body_hash="0" * 64)
    with pytest.raises(OperationError):
        apply(store, who="x", at=NOW, draft=never, check=any_machine, operation=other)


def test_a_handle_of_a_row_taken_away_is_not_given_out_again(store: Store) -> None:
    with store.reading() as reader:
        assert reader.next_handle(TEASEL, "findings") == "f4"
        assert reader.next_handle(FENNEL, "findings") == "f2"


def test_images_of_an_older_record_format_are_brought_up_or_refused(store: Store) -> None:
    def next_format(raw: object) -> dict[str, object]:
        assert isinstance(raw, dict)
        findings = [{**row, "what": row["what"].upper()} for row in raw["findings"]]
        return {**raw, "findings": findings}

    with store.reading() as reader:
        (image,) = reader.images(TOOK_AWAY_F2)
    brought_up = in_current_format(image, upcasters={1: next_format}, current=2)
    assert brought_up.before == {"id": "f2", "severity": 1, "what": "TANK SCRATCHED"}
    assert (brought_up.after, brought_up.record_format) == (None, 2)
    with pytest.raises(StoreError, match="findings f2 .* format 1"):
        in_current_format(image, upcasters={}, current=2)


def references(path: Path, table: str) -> set[object]:
    """Foreign keys by what they say: SQLite numbers them by the order in which they were written down."""
    found: dict[object, list[object]] = {}
    for number, _, other, here, there, *how in ask(path, f"PRAGMA foreign_key_list('{table}')"):
        found.setdefault((number, other, *how), []).append((here, there))
    return {(about[1:], tuple(columns)) for about, columns in found.items() if isinstance(about, tuple)}


def schema_of(path: Path) -> dict[str, object]:
    """Tables with columns, indexes and references as SQLite itself sees them, whatever the text of their making."""
    tables = [str(name) for (name,) in ask(path, "SELECT name FROM sqlite_master WHERE type = 'table'")]
    return {
        name: (
            [column[1:] for column in ask(path, f"PRAGMA table_info('{name}')")],
            references(path, name),
            {
                tuple(index[1:]): tuple(ask(path, f"PRAGMA index_info('{index[1]}')"))
                for index in ask(path, f"PRAGMA index_list('{name}')")
            },
        )
        for name in tables
        if name != "alembic_version"
    }


@pytest.mark.parametrize("begin", ["golden", "new"])
def test_what_comes_out_is_the_schema_that_the_program_states(tmp_path: Path, begin: str) -> None:
    path = tmp_path / "wreckwright.sqlite"
    if begin == "golden":
        first_schema(path)
    with open_store(path, create=True) as opened:
        migrate(opened, backups=tmp_path / "backups")
        with opened.engine.connect() as connection:
            context = MigrationContext.configure(connection, opts={"compare_type": True})
            assert compare_metadata(context, metadata) == []
    # Independent of Alembic's comparison, which looks at neither checks nor the order of columns.
    stated = tmp_path / "stated.sqlite"
    engine = sa.create_engine(f"sqlite:///{stated}")
    metadata.create_all(engine)
    engine.dispose()
    assert schema_of(path) == schema_of(stated)
    checks = "SELECT name FROM sqlite_master WHERE sql LIKE '%ck_record_row_rev CHECK (rev >= 1)%'"
    assert ask(path, checks) == ask(stated, checks) == [("record_row",)]


def test_the_comparison_would_notice(old: Path) -> None:
    # The schema before, against that of today: a column and an index of each table that 0002 changes.
    with open_store(old, create=False) as opened, opened.engine.connect() as connection:
        differences = compare_metadata(MigrationContext.configure(connection), metadata)
    assert {(one[0], one[2] if one[0] == "add_column" else "") for one in differences if isinstance(one, tuple)} >= {
        ("add_column", "machine"),
        ("add_column", "change"),
        ("add_index", ""),
    }


def test_steps_are_one_line_of_numbers() -> None:
    scripts = ScriptDirectory(str(module.VERSIONS), version_locations=[str(module.VERSIONS)])
    steps = list(reversed(list(scripts.walk_revisions())))
    assert tuple(step.revision for step in steps) == known()
    assert [step.down_revision for step in steps] == [None, *known()[:-1]]


# ---- The copy made before ------------------------------------------------------------------------------------------


def test_a_copy_of_the_old_schema_lies_in_backups(old: Path, tmp_path: Path) -> None:
    before = dump(old)
    copy = try_to_migrate(old, tmp_path / "here" / "backups")
    assert copy is not None and copy.parent == tmp_path / "here" / "backups"
    assert COPY_NAME.fullmatch(copy.name)
    assert [path.name for path in copy.parent.iterdir()] == [copy.name]
    assert ask(copy, "SELECT version_num FROM alembic_version") == [("0001",)]
    assert ask(copy, "PRAGMA integrity_check") == [("ok",)]
    assert dump(copy) == before
    assert copy.stat().st_mode & 0o777 == 0o600


def test_two_copies_of_one_second_are_two_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    class Stopped(dt.datetime):
        @classmethod
        def now(cls, tz: dt.tzinfo | None = None) -> Stopped:
            return cls(2026, 11, 25, 19, 30, 0, tzinfo=tz)

    monkeypatch.setattr(module.dt, "datetime", Stopped)
    names = [try_to_migrate(first_schema(tmp_path / name), tmp_path / "backups") for name in ("a", "b", "c")]
    assert [copy.name for copy in names if copy] == [
        "wreckwright-20261125T193000Z-before-0002.sqlite",
        "wreckwright-20261125T193000Z-before-0002-2.sqlite",
        "wreckwright-20261125T193000Z-before-0002-3.sqlite",
    ]


def test_what_is_committed_but_only_in_the_log_is_in_the_copy(old: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(old)) as other:
        other.execute("PRAGMA wal_autocheckpoint=0")
        other.execute("UPDATE change SET who = 'written last' WHERE seq = 9")
        other.commit()
        assert Path(f"{old}-wal").stat().st_size > 0
        copy = try_to_migrate(old, tmp_path / "backups")
    assert copy is not None
    assert ask(copy, "SELECT who FROM change WHERE seq = 9") == [("written last",)]


def test_without_a_copy_nothing_is_migrated(old: Path, tmp_path: Path) -> None:
    before = dump(old)
    (tmp_path / "backups").write_text("a file where the folder should be")
    with pytest.raises(StoreError, match="for the copy made before") as caught:
        try_to_migrate(old, tmp_path / "backups")
    assert "nothing was changed" in caught.value.do
    assert dump(old) == before


def test_a_damaged_database_is_not_migrated(old: Path, tmp_path: Path) -> None:
    # An index that has the entries of another one. It opens and reads; only the whole check sees it.
    with closing(sqlite3.connect(old)) as connection:
        connection.execute("PRAGMA writable_schema=ON")
        connection.execute(
            "UPDATE sqlite_master SET rootpage = (SELECT rootpage FROM sqlite_master WHERE name = 'operation')"
            " WHERE name = 'ix_row_image_change_id'"
        )
        connection.commit()
    with pytest.raises(StoreError) as caught:
        try_to_migrate(old, tmp_path / "backups")
    assert "cannot be made" in caught.value.what
    assert list((tmp_path / "backups").iterdir()) == []
    assert ask(old, "SELECT version_num FROM alembic_version") == [("0001",)]


def test_a_new_database_needs_no_copy(tmp_path: Path) -> None:
    with open_store(tmp_path / "new.sqlite", create=True) as opened:
        assert pending(opened) == known()
        assert migrate(opened, backups=tmp_path / "backups") is None
        assert pending(opened) == ()
    assert not (tmp_path / "backups").exists()


# ---- Nothing by halves ---------------------------------------------------------------------------------------------

BREAKS = {
    # After a table was swapped, an index made and rows written: the worst moment.
    "in the middle of a step": (
        '    with op.batch_alter_table("change") as change:\n'
        '        change.alter_column("who", new_column_name="hand")\n'
        "    op.execute(\"UPDATE machine SET nickname = 'gone'\")\n"
        '    op.create_index("ix_made", "change", ["hand"])\n'
        '    op.create_table("made", sa.Column("x", sa.Integer))\n'
        '    raise RuntimeError("the middle of 0003")'
    ),
    "by leaving rows that point at nothing": (
        "    op.execute(\"DELETE FROM change WHERE seq = 5\")\n"  # its row images stay
    ),
    "by statements the database refuses": '    op.execute("UPDATE nowhere SET x = 1")',
}  # fmt: skip


@pytest.mark.parametrize("body", BREAKS.values(), ids=BREAKS)
def test_a_step_that_fails_leaves_the_database_as_it_was(
    old: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, body: str
) -> None:
    with_step(monkeypatch, tmp_path, body)
    before, bytes_before = dump(old), old.read_bytes()
    with pytest.raises(StoreError) as caught:
        try_to_migrate(old, tmp_path / "backups")
    # Also 0002, which had gone through before 0003 failed, is taken back: all steps are one transaction.
    assert dump(old) == before
    assert old.read_bytes() == bytes_before
    (copy,) = (tmp_path / "backups").iterdir()
    assert dump(copy) == before
    assert "from schema 0001 to 0003" in caught.value.what
    assert str(copy) in caught.value.do and "Nothing was changed" in caught.value.do
    # And the next start, with the step mended, goes through.
    monkeypatch.undo()
    assert try_to_migrate(old, tmp_path / "backups") is not None
    assert ask(old, "SELECT version_num FROM alembic_version") == [("0002",)]


def test_the_driver_left_to_itself_would_have_committed(old: Path, tmp_path: Path) -> None:
    """Why the transaction is begun by hand: without that, the same failure leaves its traces (SQLAlchemy's default)."""
    engine = sa.create_engine(f"sqlite:///{old}")
    with pytest.raises(RuntimeError), engine.begin() as connection:
        connection.execute(sa.text("CREATE TABLE made (x INTEGER)"))
        raise RuntimeError
    engine.dispose()
    assert ask(old, "SELECT name FROM sqlite_master WHERE name = 'made'") == [("made",)]


def test_nothing_that_points_at_a_swapped_table_is_lost(
    old: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_step(
        monkeypatch,
        tmp_path,
        '    for name in ("machine", "record_row", "change"):\n'
        '        with op.batch_alter_table(name, recreate="always") as table:\n'
        '            table.add_column(sa.Column("more", sa.Integer))',
    )
    tables = ("machine", "record_row", "change", "row_image", "operation")
    counts = " UNION ALL ".join(f"SELECT '{table}', count(*) FROM {table}" for table in tables)
    before = ask(old, counts)
    try_to_migrate(old, tmp_path / "backups")
    assert ask(old, counts) == before
    assert ask(old, "SELECT sql FROM sqlite_master WHERE sql LIKE '%alembic_tmp%'") == []
    with pytest.raises(sqlite3.IntegrityError), closing(sqlite3.connect(old)) as connection:
        connection.execute("PRAGMA foreign_keys=ON")
        connection.execute("DELETE FROM machine")


def die_in_the_middle(path: Path, folder: Path) -> None:
    with pytest.MonkeyPatch.context() as patch:
        with_step(patch, folder, "    op.execute('UPDATE machine SET nickname = uid')\n    __import__('os')._exit(9)")
        try_to_migrate(path, folder / "backups")


def test_a_program_that_is_killed_in_the_middle_leaves_it_as_it_was(old: Path, tmp_path: Path) -> None:
    before = dump(old)
    child = multiprocessing.get_context("fork").Process(target=die_in_the_middle, args=(old, tmp_path))
    child.start()
    child.join(60)
    assert child.exitcode == 9
    assert dump(old) == before
    assert try_to_migrate(old, tmp_path / "backups") is not None


# ---- PostgreSQL ------------------------------------------------------------------------------------------------------


@pytest.fixture
def server() -> Iterator[Store]:
    """An empty database of PostgreSQL."""
    if not (url := os.environ.get(POSTGRES)):
        pytest.skip(f"no PostgreSQL to test on: {POSTGRES} names none")
    with open_url(url) as opened:
        with opened.engine.begin() as connection:
            metadata.drop_all(connection)
            connection.execute(sa.text("DROP TABLE IF EXISTS alembic_version"))
        yield opened


def test_a_server_of_the_first_schema_is_brought_up_to_date(
    server: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    versions = tmp_path / "versions"
    versions.mkdir()
    shutil.copy(module.VERSIONS / "0001_first_tables.py", versions)
    monkeypatch.setattr(module, "VERSIONS", versions)
    migrate(server, backups=None)
    golden = first_schema(tmp_path / "golden.sqlite")
    with server.engine.begin() as connection:
        for table in ("machine", "record_row", "change", "row_image", "operation"):
            rows = ask(golden, f"SELECT * FROM {table}")
            places = ", ".join(["%s"] * len(rows[0]))
            connection.exec_driver_sql(f"INSERT INTO {table} VALUES ({places})", rows)
    monkeypatch.undo()
    assert pending(server) == ("0002",)
    assert migrate(server, backups=tmp_path / "backups") is None
    assert pending(server) == ()
    with server.reading() as reader:
        assert reader.machine(TEASEL) == databases.teasel()
        assert [(head.nickname, head.place) for head in reader.machines()] == [("Teasel", 0), ("Fennel", 2)]
    with server.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []
    undo(server, change_id=ARRIVED, who="bench", at=NOW, check=any_machine)


def test_a_step_that_fails_leaves_the_server_as_it_was(
    server: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with_step(monkeypatch, tmp_path, BREAKS["in the middle of a step"])
    with pytest.raises(StoreError, match="from schema none to 0003"):
        migrate(server, backups=None)
    with server.engine.connect() as connection:
        assert sa.inspect(connection).get_table_names() == []


def test_programs_that_start_at_once_migrate_a_server_once(server: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    barrier = threading.Barrier(4)

    def looked(store: Store) -> tuple[str, ...]:
        found = pending(store)
        barrier.wait(30)
        return found

    monkeypatch.setattr(module, "pending", looked)
    with ThreadPoolExecutor(4) as threads, ExitStack() as stack:
        stores = [stack.enter_context(open_url(os.environ[POSTGRES])) for _ in range(4)]
        assert list(threads.map(lambda store: migrate(store, backups=None), stores)) == [None] * 4
    assert pending(server) == ()


# ---- Two at once, and what must not be touched -----------------------------------------------------------------------


def start_together(path: Path, backups: Path, barrier: object, told: object) -> None:
    barrier.wait(30)  # type: ignore[attr-defined]
    try:
        told.put(("done", try_to_migrate(path, backups)))  # type: ignore[attr-defined]
    except BaseException as error:
        told.put(("failed", str(error)))  # type: ignore[attr-defined]


@pytest.mark.parametrize("begin", ["golden", "new"])
def test_programs_that_start_at_once_migrate_once(tmp_path: Path, begin: str) -> None:
    path = tmp_path / "wreckwright.sqlite"
    if begin == "golden":
        first_schema(path)
    else:
        path.touch()
    fork = multiprocessing.get_context("fork")
    barrier, told = fork.Barrier(3), fork.Queue()
    children = [fork.Process(target=start_together, args=(path, tmp_path / "backups", barrier, told)) for _ in range(3)]
    for child in children:
        child.start()
    answers = [told.get(timeout=60) for _ in children]
    for child in children:
        child.join(60)
    assert [how for how, _ in answers] == ["done"] * 3, answers
    copies = [copy for _, copy in answers if copy is not None]
    assert len(copies) == (1 if begin == "golden" else 0)
    assert ask(path, "SELECT version_num FROM alembic_version") == [("0002",)]


def test_threads_migrate_databases_of_their_own(tmp_path: Path) -> None:
    """A backup is brought up to date while the pages are served, in whatever thread asked for it."""
    paths = [first_schema(tmp_path / f"{number}.sqlite") for number in range(6)]
    with ThreadPoolExecutor(len(paths)) as threads:
        copies = list(threads.map(lambda path: try_to_migrate(path, tmp_path / path.stem), paths))
    assert None not in copies
    for path in paths:
        assert dump(path) == dump(paths[0])
        assert ask(path, "SELECT version_num FROM alembic_version") == [("0002",)]


def test_looking_writes_nothing(old: Path) -> None:
    before = old.read_bytes()
    with open_store(old, create=False) as opened:
        assert pending(opened) == ("0002",)
    assert old.read_bytes() == before
    with open_store(old.with_name("new.sqlite"), create=True) as opened:
        empty = opened.path and opened.path.read_bytes()
        assert pending(opened) == known()
        assert opened.path and opened.path.read_bytes() == empty


LOADED = """
import sys
from pathlib import Path
from wreckwright.store.engine import open_store
from wreckwright.store.migrate import migrate
with open_store(Path("wreckwright.sqlite"), create=False) as store:
    assert migrate(store, backups=Path("backups")) is None
assert "sqlalchemy" in sys.modules
assert "alembic" not in sys.modules
"""


def test_nothing_to_do_makes_no_copy_and_loads_no_alembic(old: Path, tmp_path: Path) -> None:
    try_to_migrate(old, tmp_path / "before")
    before = dump(old)
    done = subprocess.run([sys.executable, "-c", LOADED], cwd=tmp_path, capture_output=True, text=True)
    assert (done.returncode, done.stderr) == (0, "")
    assert not (tmp_path / "backups").exists()
    assert dump(old) == before


@pytest.mark.parametrize("number", ["0003", "0417", "7c1e90aab3d2"])
def test_a_newer_database_is_refused_and_left_alone(old: Path, tmp_path: Path, number: str) -> None:
    order(old, f"UPDATE alembic_version SET version_num = '{number}'")
    before = old.read_bytes()
    with pytest.raises(StoreError) as caught:
        try_to_migrate(old, tmp_path / "backups")
    assert f"has schema {number}" in caught.value.what
    assert caught.value.allowed == "Schema 0001 to 0002"
    assert "newer version" in caught.value.do
    assert old.read_bytes() == before
    assert not (tmp_path / "backups").exists()


@pytest.mark.parametrize(
    "sql",
    [
        "CREATE TABLE recipes (name TEXT)",
        # Another program with the same tool and numbers of the same kind.
        "CREATE TABLE alembic_version (version_num TEXT); INSERT INTO alembic_version VALUES ('0001')",
        "CREATE TABLE alembic_version (version_num TEXT); CREATE TABLE change (id TEXT)",
    ],
)
def test_a_database_of_something_else_is_left_alone(tmp_path: Path, sql: str) -> None:
    path = tmp_path / "recipes.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(sql)
    before = dump(path)
    with pytest.raises(StoreError, match="is a database of something else") as caught:
        try_to_migrate(path, tmp_path / "backups")
    assert caught.value.allowed and caught.value.do
    assert dump(path) == before
