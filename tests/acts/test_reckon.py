"""Reckoning in the background: fresh means fresh, nothing waits, nothing is left over.

Expected states follow from what the docstrings of `Reckoner` promise; figures of answers are compared with those that
the same functions give in this process (independent of the child, the queue and the files).
"""

from __future__ import annotations

import datetime as dt
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path

import msgspec
import pytest
from msgspec.structs import replace

from tests.acts.kept import AT, SENT, machine, rev, sending
from tests.acts.reckoning import FEW, PATIENCE_S, child_pid, frozen, is_gone, place_with, settled, until
from wreckwright.acts.checks import trade_data
from wreckwright.acts.machines import load_record
from wreckwright.acts.place import Place, memory
from wreckwright.acts.reckon import Answers, Reckoner
from wreckwright.acts.reckon_child import Asked, reckon
from wreckwright.acts.reckon_inputs import common_inputs, input_hash
from wreckwright.acts.writes import FindingForm, note_finding, tap, undo_change
from wreckwright.errors import NotThere
from wreckwright.record.types import Finding, Machine
from wreckwright.store.apply import apply
from wreckwright.store.types import Draft, Put, RowKey

ROOT = Path(__file__).resolve().parents[2]
needs_proc = pytest.mark.skipif(not Path("/proc/self").exists(), reason="looks for processes in /proc")
MANY = 20_000
"""Futures; so many that it is interrupted long before they are drawn."""


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Place, str, Reckoner]]:
    """One warm reckoner for all tests that do not harm it; Sorrel is in its place."""
    place, (sorrel,) = place_with(tmp_path_factory.mktemp("shared"), "sorrel")
    with Reckoner(place, n_futures=FEW) as reckoner:
        yield place, sorrel, reckoner


def note(place: Place, uid: str, words: str) -> str:
    change = note_finding(place, uid, FindingForm(what=words), SENT).change_id
    assert change is not None
    return change


def bad_row(place: Place, uid: str) -> None:
    """Something that this program's checks refuse, as an older one may have left it."""
    key = RowKey(machine=uid, kind="parts", handle="old")
    draft = Draft(what="as another program left it", writes=(
        Put(key=key, fields={"id": "old", "component": "flux_valve"}, base_rev=0),))
    apply(memory(place), who="test", at=AT, draft=lambda _: draft, check=lambda _: None)


def set_right(place: Place, uid: str) -> None:
    key = RowKey(machine=uid, kind="parts", handle="old")
    put = Put(key=key, fields={"component": "mirror_l"}, base_rev=rev(place, uid, "parts", "old"))
    draft = Draft(what="put right", writes=(put,))
    apply(memory(place), who="test", at=AT, draft=lambda _: draft, check=lambda _: None)


# ---- from never to fresh ----


def test_what_is_wanted_becomes_fresh_and_says_what_the_answers_say(shared: tuple[Place, str, Reckoner]) -> None:
    place, sorrel, reckoner = shared
    reckoner.want(sorrel)
    found = settled(reckoner, sorrel)
    assert (found.state, found.stale, found.why) == ("fresh", False, "")
    assert found.answers is not None
    record = machine(place, sorrel)
    assert record.as_of is not None
    asked = Asked(
        machine=record, trade=trade_data(), day=record.as_of, at=found.answers.at, change=found.answers.change,
        input_hash=found.answers.input_hash, n_futures=FEW,
    )
    here = reckon(asked, tell=lambda words, share: None)
    assert found.answers == here
    with memory(place).reading() as reader:
        assert found.answers.change == reader.changes(sorrel, limit=1)[0].id
    # A second reckoner of the same place reads them from the disk.
    with Reckoner(place, n_futures=FEW) as other:
        assert other.look(sorrel).answers == here
        assert other.look(sorrel).state == "fresh"


def test_nothing_was_asked_yet(tmp_path: Path) -> None:
    place, (bramble,) = place_with(tmp_path, "bramble")
    with Reckoner(place, n_futures=FEW) as reckoner:
        found = reckoner.look(bramble)
        assert (found.state, found.answers, found.before, found.stale) == ("never", None, None, False)


def test_a_machine_that_is_not_there(shared: tuple[Place, str, Reckoner], tmp_path: Path) -> None:
    _, _, reckoner = shared
    for act in (reckoner.want, reckoner.look):
        with pytest.raises(NotThere):
            act("nobody")
    with Reckoner(Place(tmp_path / "empty")) as empty, pytest.raises(NotThere):
        empty.look("nobody")
    assert not (tmp_path / "empty").exists()


def test_a_change_makes_the_answers_stale_until_they_are_reckoned_again(shared: tuple[Place, str, Reckoner]) -> None:
    place, sorrel, reckoner = shared
    reckoner.want(sorrel)
    first = settled(reckoner, sorrel).answers
    change = note(place, sorrel, "front brake discs bent")
    found = reckoner.look(sorrel)
    assert (found.state, found.stale, found.answers) == ("never", True, first)
    reckoner.want(sorrel)
    # While it is reckoned the last answer is still shown, and never as fresh.
    found = reckoner.look(sorrel)
    assert found.state in ("running", "waiting", "fresh") and (found.state == "fresh") == (not found.stale)
    found = settled(reckoner, sorrel)
    assert found.state == "fresh" and found.answers is not None and found.before == first
    assert found.answers.change == change
    assert "front brake discs bent" in [one.words for one in found.answers.shown.findings]
    # Taking it back brings the first answer back at once: the same record has the same answer.
    undo_change(place, change, SENT)
    found = reckoner.look(sorrel)
    assert (found.state, found.answers) == ("fresh", first)
    reckoner.want(sorrel)
    assert reckoner.look(sorrel).before is not None


def test_a_tap_moves_no_answer(shared: tuple[Place, str, Reckoner]) -> None:
    place, sorrel, reckoner = shared
    reckoner.want(sorrel)
    assert settled(reckoner, sorrel).state == "fresh"
    tap(place, sorrel, "snag", "rear brake drags", (), sending("taptaptap1"))
    assert reckoner.look(sorrel).state == "fresh"


def test_without_a_day_of_its_own_the_answer_holds_for_today_only(tmp_path: Path) -> None:
    file = tmp_path / "thistle.toml"
    file.write_text('nickname = "Thistle"\nmachine_class = "naked"\nyear = 2016\n', encoding="utf-8")
    place = Place(tmp_path / "data")
    uid = load_record(place, file, sent=SENT).uid
    today = [dt.date(2026, 11, 25)]
    with Reckoner(place, n_futures=FEW, today=lambda: today[0]) as reckoner:
        reckoner.want(uid)
        found = settled(reckoner, uid)
        assert found.answers is not None and found.answers.foresight.as_of == "2026-11-25"
        today[0] = dt.date(2026, 11, 26)
        assert (reckoner.look(uid).state, reckoner.look(uid).stale) == ("never", True)
        reckoner.want(uid)
        found = settled(reckoner, uid)
        assert found.answers is not None and found.answers.foresight.as_of == "2026-11-26"


# ---- one after another ----


@needs_proc
def test_one_at_a_time_and_whoever_the_owner_asks_for_goes_first(tmp_path: Path) -> None:
    place, (sorrel, magpie, bramble) = place_with(tmp_path, "sorrel", "magpie", "bramble")
    with Reckoner(place, n_futures=FEW) as reckoner:
        reckoner.want(sorrel)
        pid = child_pid(reckoner)
        os.kill(pid, signal.SIGSTOP)
        reckoner.want(magpie)
        reckoner.want(bramble)
        assert reckoner.look(magpie).state == reckoner.look(bramble).state == "waiting"
        assert reckoner.look(sorrel).state in ("running", "fresh")
        reckoner.want(bramble, first=True)
        reckoner.want(magpie)
        os.kill(pid, signal.SIGCONT)
        until(lambda: "fresh" in (reckoner.look(magpie).state, reckoner.look(bramble).state), "one of the two")
        assert reckoner.look(bramble).state == "fresh"
        assert settled(reckoner, magpie).state == "fresh"
        # All by one process.
        assert child_pid(reckoner) == pid


@needs_proc
def test_a_record_that_changes_while_it_is_reckoned_is_reckoned_again(tmp_path: Path) -> None:
    place, (sorrel,) = place_with(tmp_path, "sorrel")
    with Reckoner(place, n_futures=FEW) as reckoner:
        pid = frozen(reckoner, sorrel)
        assert "running order" in reckoner.look(sorrel).step and 0.0 < reckoner.look(sorrel).share < 1.0
        note(place, sorrel, "left mirror gone")
        os.kill(pid, signal.SIGCONT)
        found = settled(reckoner, sorrel)
        assert found.state == "fresh" and found.answers is not None and found.before is not None
        assert "left mirror gone" in [one.words for one in found.answers.shown.findings]
        # The answer for the record as it was before is kept as such.
        assert "left mirror gone" not in [one.words for one in found.before.shown.findings]


# ---- stopping ----


@needs_proc
def test_stopping_ends_the_process_and_holds_until_the_owner_asks_again(tmp_path: Path) -> None:
    place, (sorrel, bramble) = place_with(tmp_path, "sorrel", "bramble")
    with Reckoner(place, n_futures=MANY) as reckoner:
        reckoner.want(sorrel)
        until(lambda: "running order" in reckoner.look(sorrel).step, "the drawing")
        pid = child_pid(reckoner)
        reckoner.want(bramble)
        reckoner.stop(sorrel)
        assert reckoner.look(sorrel).state == "stopped" and "again" in reckoner.look(sorrel).why
        until(lambda: is_gone(pid), "the end of the process")
        # A page that is shown wants it too; that does not start it.
        reckoner.want(sorrel)
        assert reckoner.look(sorrel).state == "stopped"
        # The other one is not stopped with it, and leaves the queue when it is.
        assert reckoner.look(bramble).state in ("waiting", "running")
        reckoner.stop(bramble)
        assert reckoner.look(bramble).state == "stopped"
        reckoner.want(sorrel, first=True)
        assert reckoner.look(sorrel).state in ("waiting", "running")
        reckoner.stop(sorrel)
        # Another record is another question.
        note(place, sorrel, "left mirror gone")
        assert reckoner.look(sorrel).state == "never"
        reckoner.want(sorrel)
        assert reckoner.look(sorrel).state in ("waiting", "running")


def test_stopping_what_is_not_running_does_nothing(shared: tuple[Place, str, Reckoner]) -> None:
    _, sorrel, reckoner = shared
    reckoner.want(sorrel)
    settled(reckoner, sorrel)
    reckoner.stop(sorrel)
    assert reckoner.look(sorrel).state == "fresh"


# ---- what can go wrong ----


@needs_proc
def test_a_process_that_is_killed_is_tried_once_more_and_then_it_is_said(tmp_path: Path) -> None:
    place, (sorrel,) = place_with(tmp_path, "sorrel")
    with Reckoner(place, n_futures=FEW) as reckoner:
        first = frozen(reckoner, sorrel)
        os.kill(first, signal.SIGKILL)
        until(lambda: is_gone(first) and child_pid(reckoner) != first, "a second process")
        second = child_pid(reckoner)
        os.kill(second, signal.SIGKILL)
        found = settled(reckoner, sorrel)
        assert found.state == "failed" and "twice" in found.why and "memory" in found.why
        until(lambda: is_gone(second), "the burial of the second process")
        reckoner.want(sorrel)
        assert reckoner.look(sorrel).state == "failed"
        reckoner.want(sorrel, first=True)
        assert settled(reckoner, sorrel).state == "fresh"


@needs_proc
def test_one_death_is_nothing_to_speak_of(shared: tuple[Place, str, Reckoner]) -> None:
    place, sorrel, reckoner = shared
    note(place, sorrel, "rear brake disc bent")
    reckoner.want(sorrel)
    os.kill(child_pid(reckoner), signal.SIGKILL)
    assert settled(reckoner, sorrel).state == "fresh"


@needs_proc
def test_an_idle_process_that_is_killed_leaves_no_zombie_and_is_replaced(shared: tuple[Place, str, Reckoner]) -> None:
    place, sorrel, reckoner = shared
    reckoner.want(sorrel)
    assert settled(reckoner, sorrel).state == "fresh"
    pid = child_pid(reckoner)
    os.kill(pid, signal.SIGKILL)
    until(lambda: is_gone(pid), "the burial")
    note(place, sorrel, "left mirror gone")
    reckoner.want(sorrel)
    assert settled(reckoner, sorrel).state == "fresh"


def test_a_record_that_is_refused_says_why_in_three_parts(shared: tuple[Place, str, Reckoner]) -> None:
    place, sorrel, reckoner = shared
    reckoner.want(sorrel)
    good = settled(reckoner, sorrel).answers
    bad_row(place, sorrel)
    reckoner.want(sorrel)
    found = settled(reckoner, sorrel)
    assert (found.state, found.stale, found.answers) == ("failed", True, good)
    # What is wrong, what is allowed, what to do.
    assert "found 'flux_valve', which is no component of the trade data. " in found.why
    assert "123 in all" in found.why and "write one of these, or add the component in a model pack." in found.why
    reckoner.want(sorrel)
    assert reckoner.look(sorrel).state == "failed"
    set_right(place, sorrel)
    reckoner.want(sorrel)
    assert settled(reckoner, sorrel).state == "fresh"


def test_rows_that_are_no_record_say_why(tmp_path: Path) -> None:
    place, (sorrel,) = place_with(tmp_path, "sorrel")
    with Reckoner(place, n_futures=FEW) as reckoner:
        # As a later program may have written it.
        with memory(place).writing() as connection:
            from wreckwright.store.schema import record_row

            connection.execute(
                record_row.update().where(record_row.c.kind == "owner").values(body='{"moon_phase":"full"}')
            )
        reckoner.want(sorrel)
        found = reckoner.look(sorrel)
        assert found.state == "failed" and "moon_phase" in found.why


def test_a_full_disk_is_told(shared: tuple[Place, str, Reckoner], monkeypatch: pytest.MonkeyPatch) -> None:
    place, sorrel, reckoner = shared
    note(place, sorrel, "seat torn")

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(reckoner._cache, "keep", full)
    reckoner.want(sorrel)
    found = settled(reckoner, sorrel)
    assert found.state == "failed" and "No space left on device" in found.why
    monkeypatch.undo()
    reckoner.want(sorrel, first=True)
    assert settled(reckoner, sorrel).state == "fresh"


def test_a_fault_in_the_thread_leaves_nobody_waiting(
    shared: tuple[Place, str, Reckoner], monkeypatch: pytest.MonkeyPatch
) -> None:
    place, sorrel, reckoner = shared
    note(place, sorrel, "screen cracked")

    def broken(*_: object) -> None:
        raise RuntimeError("the spring has sprung")

    monkeypatch.setattr(reckoner, "_keep", broken)
    reckoner.want(sorrel)
    found = settled(reckoner, sorrel)
    assert found.state == "failed"
    assert "fault of the program, not of your record" in found.why and "the spring has sprung" in found.why
    monkeypatch.undo()
    reckoner.want(sorrel, first=True)
    assert settled(reckoner, sorrel).state == "fresh"


# ---- the end ----


@needs_proc
def test_closing_ends_process_and_thread_whatever_they_are_at(tmp_path: Path) -> None:
    place, (sorrel,) = place_with(tmp_path, "sorrel")
    before = set(threading.enumerate())
    for at in ("starting", "running order"):
        reckoner = Reckoner(place, n_futures=MANY)
        reckoner.want(sorrel)
        until(lambda r=reckoner, at=at: at in r.look(sorrel).step, at)  # type: ignore[misc]
        pid = child_pid(reckoner)
        reckoner.close()
        assert is_gone(pid)
        assert set(threading.enumerate()) <= before
        reckoner.close()
        reckoner.want(sorrel)
        assert reckoner.look(sorrel).state == "never"


PROGRAM = """
import sys, time
from pathlib import Path
from wreckwright.acts.place import Place
from wreckwright.acts.reckon import Answers, Reckoner

def main():
    reckoner = Reckoner(Place(Path(sys.argv[1])), n_futures=20000)
    try:
        reckoner.want(sys.argv[2])
        while reckoner._child is None or sys.argv[3] not in reckoner.look(sys.argv[2]).step:
            time.sleep(0.01)
        print(reckoner._child.process.pid, "numpy" in sys.modules, flush=True)
        time.sleep(60)
    except KeyboardInterrupt:
        print("interrupted", flush=True)
    finally:
        reckoner.close()

if __name__ == "__main__":
    main()
"""


def program(tmp_path: Path, step: str) -> subprocess.Popen[str]:
    place, (sorrel,) = place_with(tmp_path, "sorrel")
    file = tmp_path / "program.py"
    file.write_text(PROGRAM, encoding="utf-8")
    return subprocess.Popen(
        [sys.executable, str(file), str(place.folder), sorrel, step], text=True, start_new_session=True,
        env=os.environ | {"PYTHONPATH": str(ROOT / "src")}, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )


@needs_proc
@pytest.mark.parametrize("step", ["starting", "running order"])
def test_ctrl_c_ends_it_all_without_a_traceback(tmp_path: Path, step: str) -> None:
    running = program(tmp_path, step)
    assert running.stdout is not None
    pid = int(running.stdout.readline().split()[0])
    # As a terminal does it: to every process of the group.
    os.killpg(running.pid, signal.SIGINT)
    out, err = running.communicate(timeout=PATIENCE_S)
    assert (out, err, running.returncode) == ("interrupted\n", "", 0)
    assert is_gone(pid)


@needs_proc
def test_the_process_ends_when_its_parent_is_killed(tmp_path: Path) -> None:
    running = program(tmp_path, "running order")
    assert running.stdout is not None
    pid = int(running.stdout.readline().split()[0])
    running.kill()
    running.communicate(timeout=PATIENCE_S)
    until(lambda: is_gone(pid), "the end of the child")


def test_the_parent_never_imports_the_numeric_libraries(tmp_path: Path) -> None:
    place, (sorrel,) = place_with(tmp_path, "sorrel")
    code = """
import sys, time
from pathlib import Path
from wreckwright.acts import pages
from wreckwright.acts.checks import trade_data
from wreckwright.acts.place import Place, memory
from wreckwright.acts.reckon import Answers, Reckoner

place, uid = Place(Path(sys.argv[1])), sys.argv[2]
with Reckoner(place, n_futures=200) as reckoner, memory(place).reading() as reader:
    reckoner.want(uid)
    while reckoner.look(uid).state != "fresh":
        time.sleep(0.01)
    pages.machines_page(reader, trade_data(), reckoner)
    pages.machine_page(reader, trade_data(), reckoner, uid)
    for page in (pages.walk_page, pages.findings_page, pages.heap_page, pages.facts_page, pages.changes_page):
        page(reader, trade_data(), uid)
    pages.station_page(reader, trade_data(), uid, "nose_on")
print([name for name in ("numpy", "scipy") if name in sys.modules])
"""
    done = subprocess.run(
        [sys.executable, "-c", code, str(place.folder), sorrel], env=os.environ | {"PYTHONPATH": str(ROOT / "src")},
        capture_output=True, text=True, timeout=PATIENCE_S, check=False,
    )
    assert (done.stdout, done.stderr) == ("[]\n", "")


# ---- what goes in ----

PLAIN = Machine(nickname="Thistle", machine_class="naked", year=2016)
DAY = dt.date(2026, 11, 25)


def test_the_name_of_the_inputs_changes_with_whatever_an_answer_reads() -> None:
    common = common_inputs(trade_data(), n_futures=FEW)
    names = {input_hash(PLAIN, day=DAY, common=common)}
    others: dict[str, object] = {
        "findings": [{"id": "f1", "what": "left mirror gone"}], "parts": [{"id": "p1"}], "year": 2017, "seed": 2,
        "jobs": [{"id": "j1", "name": "Wash"}], "owner": {"pace": 1.5}, "purchase": {"bought": True},
        "calendar": {"days_off": ["2026-12-25"]}, "market": {"days_to_sell": 20}, "covers_off": ["seat_off"],
        "purse": [{"id": "x", "date": "2026-11-01", "what": "rags", "out_minor": 5}], "proofs": [
            {"id": "q", "item": "tyres", "how": "by hand"}], "readings": [
                {"id": "r", "what": "play", "value": 1, "unit": "mm"}],
    }
    for field, value in others.items():
        other = msgspec.convert({**msgspec.to_builtins(PLAIN), field: value}, Machine, strict=False)
        names.add(input_hash(other, day=DAY, common=common))
    names.add(input_hash(PLAIN, day=dt.date(2026, 11, 26), common=common))
    names.add(input_hash(PLAIN, day=DAY, common=common_inputs(trade_data(), n_futures=FEW + 1)))
    names.add(input_hash(PLAIN, day=DAY, common=common_inputs(trade_data(mirrored=True), n_futures=FEW)))
    assert len(names) == len(others) + 4


def test_what_no_answer_reads_changes_neither_name_nor_answer() -> None:
    common = common_inputs(trade_data(), n_futures=FEW)
    more = msgspec.convert(
        {**msgspec.to_builtins(PLAIN), "taps": [{"id": "t", "what": "snag", "note": "drags"}], "extra": {"bay": 3},
         "log": [{"id": "l", "date": "2026-11-01", "note": "came home"}]}, Machine, strict=False,
    )
    assert input_hash(more, day=DAY, common=common) == input_hash(PLAIN, day=DAY, common=common)
    plain = reckoned_here(PLAIN)
    assert reckoned_here(more) == plain
    # And what is read does change it.
    assert reckoned_here(replace(PLAIN, findings=(Finding(id="f1", what="left mirror gone"),))) != plain


def reckoned_here(record: Machine) -> Answers:
    asked = Asked(machine=record, trade=trade_data(), day=DAY, at=AT, change="", input_hash="", n_futures=FEW)
    return reckon(asked, tell=lambda words, share: None)
