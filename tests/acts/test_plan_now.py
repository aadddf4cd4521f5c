"""A kept evening brought up to what the record says now. Expected values are hand-worked."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from msgspec.structs import replace

from tests.acts.at_the_bench import BURDOCK, bench, second
from tests.acts.kept import SENT, machine
from wreckwright.acts.checks import trade_data
from wreckwright.acts.doing import cover, done, start
from wreckwright.acts.loose_ends import close, leave
from wreckwright.acts.place import Place, memory
from wreckwright.acts.plan_now import CURES, evening_now, running_now
from wreckwright.acts.step_done import answer_gate, looked_and_fine
from wreckwright.answers.plan_types import Evening, EveningCover, EveningLoose, EveningWork

TRADE = trade_data()
LEVER = "lever_brake_front"


def work(key: str, **over: Any) -> EveningWork:
    plain: dict[str, Any] = {
        "key": key, "name": key, "kind": "job", "minutes": 30.0, "log_sd": 0.3, "stage": 0, "ready": True,
        "waits_for": "", "after": (), "covers": (), "covers_on": (), "may_split": True, "helper": False,
        "for_gate": False, "tail_minutes": 0.0,
    }
    return EveningWork(**(plain | over))


EVENING = Evening(
    nickname="Thistle", date="2026-11-20", stage=0, question="straight?",
    works=(
        work(f"{LEVER}:try_on", kind="job"), work(LEVER, after=(f"{LEVER}:try_on",), cure_days=1),
        work(f"{LEVER}:test", after=(LEVER,)), work("job:j2"), work("part:p2"),
        work("look:sight_and_swing", kind="look"),
        work("gate:straight", kind="gate", name="straight?", after=(LEVER, "job:j2")),
        work("gate:turns", kind="gate", name="turns?", stage=1, after=("gate:straight",)),
    ),
    covers=tuple(
        EveningCover(id=one, name=one, off=False, minutes_off=1, minutes_on=1, under=TRADE.covers[one].under)
        for one in ("seat_off", "battery_out")
    ),
    loose=(), helper_here=False, planned_minutes=120,
)


def now(place: Place, uid: str) -> Evening:
    return evening_now(EVENING, machine(place, uid), TRADE)


def by_key(evening: Evening) -> dict[str, EveningWork]:
    return {one.key: one for one in evening.works}


def test_as_long_as_nothing_is_told_it_is_the_same(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    assert now(place, uid) == EVENING


def test_what_is_done_is_gone_and_holds_nothing_up(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    done(place, uid, "job:j2", None, SENT)
    done(place, uid, f"{LEVER}:try_on", None, SENT)
    done(place, uid, "part:p2", None, SENT)
    works = by_key(now(place, uid))
    assert not {"job:j2", f"{LEVER}:try_on", "part:p2"} & works.keys()
    assert works[LEVER].after == () and works["gate:straight"].after == (LEVER,)


def test_what_cures_holds_up_what_comes_after_it(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    done(place, uid, LEVER, None, SENT)
    test = by_key(now(place, uid))[f"{LEVER}:test"]
    assert (test.ready, test.waits_for, test.after) == (False, CURES, ())


def test_what_is_begun_says_so(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    start(place, uid, LEVER, SENT)
    assert [one.key for one in now(place, uid).works if one.begun] == [LEVER]


def test_a_yes_goes_on_to_the_next_question_and_a_no_does_not(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    answer_gate(place, uid, "straight", "no", SENT)
    after = now(place, uid)
    assert (after.stage, after.question) == (0, "straight?") and "gate:straight" not in by_key(after)
    answer_gate(place, uid, "straight", "yes", SENT)
    after = now(place, uid)
    assert (after.stage, after.question) == (1, "turns?") and by_key(after)["gate:turns"].after == ()


def test_looks_covers_and_loose_ends_are_those_of_the_record(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    looked_and_fine(place, uid, "sight_and_swing", SENT)
    cover(place, uid, "battery_out", True, SENT)
    bag = leave(place, uid, "bag", "lever bolts", "", 1, (), SENT).handle
    rags = leave(place, uid, "rags", "ports", "", 2, (), SENT).handle
    close(place, uid, bag, SENT)
    after = now(place, uid)
    assert "look:sight_and_swing" not in by_key(after) and [one.off for one in after.covers] == [True, True]
    assert after.loose == (EveningLoose(handle=rags, what="rags", words="ports", count=2),)
    # A kept evening may still name what was closed since.
    old = replace(EVENING, loose=(EveningLoose(handle=bag, what="bag", words="lever bolts"),))
    assert evening_now(old, machine(place, uid), TRADE).loose == after.loose


def test_all_that_somebody_is_at_is_listed_with_its_clock(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    second(place, tmp_path, BURDOCK)
    start(place, uid, "job:j1", SENT)
    with memory(place).reading() as reader:
        (one,) = running_now(reader, lambda: SENT.at + dt.timedelta(minutes=35))
        (late,) = running_now(reader, lambda: SENT.at + dt.timedelta(hours=9))
    assert (one.uid, one.nickname, one.key, one.name, one.minutes, one.forgotten) == (
        uid, "Thistle", "job:j1", "True the wheel", 35, False)
    assert late.forgotten and late.minutes == 540


def test_an_own_job_that_mends_what_was_found_bad_has_the_key_of_its_fitting(tmp_path: Path) -> None:
    more = '\n[[jobs]]\nid = "j9"\nname = "Replace the lever"\ncomponent = "lever_brake_front"\n'
    place, uid = bench(tmp_path, more)
    start(place, uid, LEVER, SENT)
    assert {job.id for job in machine(place, uid).jobs} == {"j1", "j2", "j9"}
    with memory(place).reading() as reader:
        assert [one.key for one in running_now(reader, lambda: SENT.at)] == [LEVER]
