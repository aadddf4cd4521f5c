"""Opening, transactions, and many at once."""

from __future__ import annotations

import stat
import sys
import threading
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event

from tests.store.stores import (
    NOON,
    count,
    in_parts,
    key,
    made,
    new_store,
    obeys_rules,
    put,
    take_in,
    write,
)
from wreckwright.store.apply import apply
from wreckwright.store.engine import Store, open_store
from wreckwright.store.read import Reader
from wreckwright.store.types import Draft, Operation

A_TAP = put("tap1", "taps", 0, what="snag")


def test_every_connection_is_set_up(tmp_path: Path) -> None:
    with new_store(tmp_path / "a.sqlite", wait_ms=1234) as store:
        connections = [store.engine.connect() for _ in range(6)]
        for connection in connections:
            asked = {
                name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
                for name in ("journal_mode", "foreign_keys", "synchronous", "busy_timeout", "fullfsync")
            }
            # published (sqlite.org/pragma.html): synchronous 2 is FULL.
            assert asked == {
                "journal_mode": "wal",
                "foreign_keys": 1,
                "synchronous": 2,
                "busy_timeout": 1234,
                "fullfsync": 1,
            }
            driver = connection.connection.driver_connection
            assert driver is not None and driver.isolation_level is None, "the driver would begin by itself"
            connection.close()


def test_ten_seconds_are_waited_if_nothing_else_is_said(tmp_path: Path) -> None:
    with open_store(tmp_path / "a.sqlite", create=True) as store, store.engine.connect() as connection:
        assert connection.exec_driver_sql("PRAGMA busy_timeout").scalar_one() == 10_000


def test_a_file_that_is_not_there_is_told_and_none_is_made(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    assert str(path) in in_parts(lambda: open_store(path, create=False)).what
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    in_parts(lambda: open_store(tmp_path / "none" / "a.sqlite", create=True))
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(sys.platform == "win32", reason="no such permissions there")
def test_only_its_owner_may_read_the_file(tmp_path: Path) -> None:
    with new_store(tmp_path / "a.sqlite"):
        for file in tmp_path.iterdir():
            assert stat.S_IMODE(file.stat().st_mode) == 0o600


@pytest.mark.parametrize("name", ["with space ?mode=memory#x.sqlite", "50%.sqlite", "ü'\".sqlite"])
def test_any_file_name_will_do(tmp_path: Path, name: str) -> None:
    if sys.platform == "win32" and set(name) & set('?"'):
        pytest.skip("no file can be called so there")
    with new_store(tmp_path / name) as store:
        take_in(store, made())
    assert sorted(one.name for one in tmp_path.iterdir()) == [name]
    with open_store(tmp_path / name, create=False) as store, store.reading() as reader:
        assert reader.find("Sorrel") == "m1"


def test_what_is_no_database_is_told_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    path.write_bytes(b"no database " * 500)
    assert "damaged, or is no database" in in_parts(lambda: open_store(path, create=False)).what
    assert path.read_bytes() == b"no database " * 500
    in_parts(lambda: open_store(tmp_path, create=False))


def test_a_database_without_tables_is_told(tmp_path: Path) -> None:
    with open_store(tmp_path / "a.sqlite", create=True) as store:

        def look() -> None:
            with store.reading() as reader:
                reader.machines()

        assert "tables" in in_parts(look).what
        in_parts(lambda: write(store, A_TAP))


def test_a_file_that_vanishes_is_not_made_anew(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    with new_store(path) as store:
        take_in(store, made())
        store.close()
        for file in tmp_path.iterdir():
            file.unlink()
        in_parts(lambda: write(store, A_TAP))
        assert list(tmp_path.iterdir()) == []


def test_a_damaged_file_is_told(tmp_path: Path) -> None:
    path = tmp_path / "a.sqlite"
    with new_store(path) as store:
        take_in(store, made(findings=[{"id": f"f{number}", "what": "x" * 500} for number in range(40)]))
    whole = path.read_bytes()
    path.write_bytes(whole[:8192] + b"\xff" * (len(whole) - 8192))
    with open_store(path, create=False) as store:

        def look() -> None:
            with store.reading() as reader:
                reader.machine("m1")
                reader.changes()
                reader.photos()

        assert "damaged" in in_parts(look).what


def test_a_closed_store_opens_itself_again(tmp_path: Path) -> None:
    with new_store(tmp_path / "a.sqlite") as store:
        take_in(store, made())
        store.close()
        write(store, A_TAP)
        assert count(store, "change") == 2


# --- transactions


def statements(store: Store, action: Callable[[], object]) -> list[str]:
    """All that the driver is given by this program, BEGIN and all."""
    seen: list[str] = []
    store.engine.dispose()
    event.listen(store.engine, "connect", lambda connection, _: connection.set_trace_callback(seen.append))
    action()
    return seen


def test_a_write_is_one_transaction_begun_by_name_and_a_look_another(tmp_path: Path) -> None:
    with new_store(tmp_path / "a.sqlite") as store:
        take_in(store, made())
        operation = Operation(device="phone", op="tap-00000001", body_hash="a")
        seen = statements(store, lambda: write(store, A_TAP, operation=operation))
        control = [one for one in seen if one.split()[0] in ("BEGIN", "COMMIT", "ROLLBACK", "SAVEPOINT")]
        assert control == ["BEGIN IMMEDIATE", "COMMIT"]
        assert (seen[0], seen[-1]) == ("BEGIN IMMEDIATE", "COMMIT")
        assert sum(one.startswith("INSERT") for one in seen) == 4  # a row, a change, its image, the operation

        seen.clear()
        with store.reading() as reader:
            reader.machine("m1")
        assert (seen[0], seen[-1]) == ("BEGIN", "COMMIT")

        seen.clear()
        with pytest.raises(ZeroDivisionError):
            write(store, put("tap2", "taps", 0, what="bag"), check=lambda machine: 1 / 0 and None)
        assert (seen[0], seen[-1]) == ("BEGIN IMMEDIATE", "ROLLBACK")
        assert not any(one.startswith(("INSERT", "UPDATE", "COMMIT")) for one in seen)


def test_a_writer_and_readers_do_not_keep_each_other_waiting(tmp_path: Path) -> None:
    with new_store(tmp_path / "a.sqlite", wait_ms=50) as store:
        take_in(store, made())
        with store.reading() as reader:
            assert len(reader.changes()) == 1
            write(store, A_TAP)
            assert len(reader.changes()) == 1, "a reader's view changed under it"

            def draft(inner: Reader) -> Draft:
                with store.reading() as beside:
                    assert len(beside.changes()) == 2
                return Draft(what="Another", writes=(put("tap2", "taps", 0, what="bag"),))

            apply(store, who="Ada", at=NOON, draft=draft, check=obeys_rules)
        with store.reading() as reader:
            assert len(reader.changes()) == 3


def test_the_second_writer_waits_before_its_first_look(store: Store) -> None:
    take_in(store, made())
    inside, go_on = threading.Event(), threading.Event()
    seen: list[int] = []

    def slow(reader: Reader) -> Draft:
        inside.set()
        go_on.wait(5)
        return Draft(what="First", writes=(A_TAP,))

    def quick(reader: Reader) -> Draft:
        seen.append(len(reader.changes()))
        return Draft(what="Second", writes=(put("tap2", "taps", 0, what="bag"),))

    first = threading.Thread(target=apply, args=(store,), kwargs=kwargs(slow))
    second = threading.Thread(target=apply, args=(store,), kwargs=kwargs(quick))
    first.start()
    assert inside.wait(5)
    second.start()
    time.sleep(0.2)
    assert seen == [], "the second one looked while the first one was at work"
    go_on.set()
    first.join(10)
    second.join(10)
    assert seen == [2]
    with store.reading() as reader:
        assert [line.what for line in reader.changes(limit=2)] == ["Second", "First"]


def kwargs(draft: Callable[[Reader], Draft]) -> dict[str, Any]:
    return {"who": "Ada", "at": NOON, "draft": draft, "check": obeys_rules}


def test_many_threads_write_to_one_row_and_nothing_is_lost(store: Store) -> None:
    take_in(store, made())
    troubles: list[BaseException] = []
    threads, each = 6, 15

    def drive(number: int) -> None:
        def draft(reader: Reader) -> Draft:
            now = reader.row(key("machine"))
            assert now is not None
            handle = reader.next_handle("m1", "taps")
            return Draft(
                what=f"{number}",
                writes=(
                    put("machine", "machine", now.rev, odometer=now.fields.get("odometer", 0) + 1),
                    put(handle, "taps", 0, what="snag", note=str(number)),
                ),
            )

        try:
            for _ in range(each):
                apply(store, who="Ada", at=NOON, draft=draft, check=obeys_rules)
                with store.reading() as reader:
                    machine = reader.machine("m1")
                    assert machine.odometer == len(machine.taps)
        except BaseException as error:
            troubles.append(error)

    running = [threading.Thread(target=drive, args=(number,)) for number in range(threads)]
    for thread in running:
        thread.start()
    for thread in running:
        thread.join()
    assert troubles == []
    with store.reading() as reader:
        machine = reader.machine("m1")
    assert machine.odometer == len(machine.taps) == threads * each
    assert Counter(tap.note for tap in machine.taps) == {str(number): each for number in range(threads)}


def test_the_same_operation_from_many_threads_at_once_counts_once(store: Store) -> None:
    take_in(store, made())
    operation = Operation(device="phone", op="tap-00000001", body_hash="a")
    outcomes = []

    def draft(reader: Reader) -> Draft:
        handle = reader.next_handle("m1", "taps")
        return Draft(what="A tap", writes=(put(handle, "taps", 0, what="snag"),), result={"handle": handle})

    def send() -> None:
        outcomes.append(apply(store, who="Ada", at=NOON, draft=draft, check=obeys_rules, operation=operation))

    running = [threading.Thread(target=send) for _ in range(8)]
    for thread in running:
        thread.start()
    for thread in running:
        thread.join()
    assert len(outcomes) == 8 and sum(not outcome.replayed for outcome in outcomes) == 1
    assert {(outcome.change_id, outcome.result["handle"]) for outcome in outcomes} == {(outcomes[0].change_id, "tap1")}
    assert count(store, "change") == 2


def test_two_programs_may_open_a_new_file_at_the_same_moment(tmp_path: Path) -> None:
    for number in range(5):
        path = tmp_path / f"{number}.sqlite"
        start = threading.Barrier(4)
        troubles: list[BaseException] = []

        def come(path: Path = path, start: threading.Barrier = start, troubles: list[Any] = troubles) -> None:
            try:
                start.wait()
                open_store(path, create=True).close()
            except BaseException as error:
                troubles.append(error)

        running = [threading.Thread(target=come) for _ in range(4)]
        for thread in running:
            thread.start()
        for thread in running:
            thread.join()
        assert troubles == []
