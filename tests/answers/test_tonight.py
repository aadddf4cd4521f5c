"""Tonight's list on small evenings that are worked out by hand.

All minutes are without spread unless said otherwise, so that what fits is plain arithmetic: hand-worked throughout.
"""

from __future__ import annotations

import subprocess
import sys
from statistics import NormalDist
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from wreckwright.answers.plan_types import Evening, EveningCover, EveningLoose, EveningWork, Tonight
from wreckwright.answers.tonight import FITS_FROM, FITS_Z, fits_chance, tonight
from wreckwright.errors import AnswerError

SEAT = EveningCover(id="seat", name="seat", off=False, minutes_off=5.0, minutes_on=5.0, under=())
TANK = EveningCover(id="tank", name="tank", off=False, minutes_off=15.0, minutes_on=20.0, under=("seat",))
ENGINE = EveningCover(
    id="engine", name="engine out", off=False, minutes_off=90.0, minutes_on=120.0, under=("tank",), helper=True,
    caution="Held by a jack before the last bolt",
)
COVER_IDS = ("seat", "tank", "engine")
"""To have one on, all that lie beneath it must be on: a test names the rest of the row."""


def work(key: str, minutes: float = 30.0, **over: Any) -> EveningWork:
    plain: dict[str, Any] = {
        "key": key, "name": f"do {key}", "kind": "job", "minutes": minutes, "log_sd": 0.0, "stage": 0, "ready": True,
        "waits_for": "", "after": (), "covers": (), "covers_on": (), "may_split": False, "helper": False,
        "for_gate": False, "tail_minutes": 0.0,
    }
    return EveningWork(**(plain | over))


def gate(key: str = "gate:turns", minutes: float = 10.0, **over: Any) -> EveningWork:
    return work(key, minutes, **({"kind": "gate", "for_gate": True, "name": "Does it turn over?"} | over))


def evening(*works: EveningWork, covers: tuple[EveningCover, ...] = (SEAT, TANK, ENGINE), **over: Any) -> Evening:
    plain: dict[str, Any] = {
        "nickname": "Thistle", "date": "2026-11-20", "stage": 0, "question": "Does it turn over?", "loose": (),
        "helper_here": False, "planned_minutes": 120,
    }
    return Evening(works=works, covers=covers, **(plain | over))


def keys(found: Tonight) -> list[str]:
    return [entry.key for entry in found.entries]


# ---- light ----


def test_it_loads_no_numeric_library() -> None:
    """Independent of this process, which has loaded them for other tests."""
    program = (
        "import sys, wreckwright.answers.tonight, wreckwright.answers.after_ride, wreckwright.answers.parking\n"
        "heavy = sorted(name for name in sys.modules if name.split('.')[0] in ('numpy', 'scipy', 'sqlalchemy'))\n"
        "print(len([name for name in sys.modules if name.startswith('wreckwright')]), heavy)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True, timeout=60)
    loaded, heavy = done.stdout.strip().split(" ", 1)
    assert int(loaded) >= 4 and heavy == "[]"


# ---- two hours ----


def test_two_hours_with_covers() -> None:
    found = tonight(
        evening(
            work("pump", 40.0, covers=("seat", "tank"), for_gate=True, tail_minutes=300.0),
            work("hose", 20.0, covers=("seat", "tank"), for_gate=True, tail_minutes=290.0),
            work("mirror", 15.0),
            work("loom", 60.0, covers=("seat",), for_gate=True, tail_minutes=30.0),
        ),
        2.0,
    )
    # 5 + 15 for seat and tank, 40 for the pump: 60 left; the hose behind the same covers 20: 40 left; the loom wants 60
    # and is left for another evening; the mirror 15: 25 to spare.
    assert keys(found) == ["pump", "hose", "mirror"]
    first, second, third = found.entries
    assert (first.first_off, first.minutes_covers, first.minutes) == (("seat", "tank"), 20.0, 40.0)
    assert (second.first_off, second.minutes_covers) == ((), 0.0)
    assert found.spare_minutes == 25.0 and found.left_open == ("seat", "tank")
    assert first.why == "'Does it turn over?' cannot be asked before it; 5 hours of evenings hang on it."
    assert second.why == "'Does it turn over?' cannot be asked before it; 5 hours of evenings hang on it."
    assert third.why == "It is next in the plan, and nothing is in the way of it."
    assert found.why == "3 pieces of work, 20 minutes for covers and 25 minutes to spare."
    assert not any(entry.in_part or entry.if_yes for entry in found.entries)


def test_access_that_is_open_goes_first_where_the_chains_are_about_as_long() -> None:
    works = (
        work("far", 20.0, covers=("seat", "tank"), tail_minutes=130.0), work("near", 20.0, tail_minutes=150.0),
    )
    # 130 and 150 minutes are both in the second evening of two hours.
    assert keys(tonight(evening(*works), 2.0)) == ["near", "far"]
    open_tank = (replace(SEAT, off=True), replace(TANK, off=True))
    assert keys(tonight(evening(*works, covers=open_tank), 2.0)) == ["far", "near"]
    # A chain that is an evening longer goes before access.
    longer = (replace(works[0], tail_minutes=250.0), works[1])
    assert keys(tonight(evening(*longer), 2.0)) == ["far", "near"]
    assert tonight(evening(works[0], covers=open_tank), 2.0).entries[0].why == (
        "2 hours of evenings hang on it."
    )
    assert tonight(evening(replace(works[0], tail_minutes=0.0), covers=open_tank), 2.0).entries[0].why == (
        "What is in the way of it is off already."
    )


def test_what_leads_to_the_next_question_goes_before_longer_chains() -> None:
    found = tonight(evening(work("paint", tail_minutes=900.0), work("plug", for_gate=True, tail_minutes=10.0)), 2.0)
    assert keys(found) == ["plug", "paint"]
    assert found.entries[1].why == "15 hours of evenings hang on it."


def test_what_is_begun_is_ended_first() -> None:
    found = tonight(evening(work("plug", for_gate=True), work("valves", 40.0, begun=True)), 2.0)
    assert keys(found) == ["valves", "plug"]
    assert found.entries[0].why == "It is begun; 40 minutes of it are left."


def test_work_follows_what_it_comes_after_in_the_same_evening_unless_that_cures() -> None:
    works = (
        work("strip", 20.0, tail_minutes=500.0), work("fit", 20.0, after=("strip",), tail_minutes=400.0),
        work("other", 20.0),
    )
    assert keys(tonight(evening(*works), 2.0)) == ["strip", "fit", "other"]
    curing = (replace(works[0], cure_days=1), *works[1:])
    assert keys(tonight(evening(*curing), 2.0)) == ["strip", "other"]
    # What comes first is not done in one hour of 20 minutes' work: nor is what follows.
    assert keys(tonight(evening(*(replace(one, minutes=50.0) for one in works)), 1.0)) == ["strip"]


# ---- arrived, loose ----


def test_a_part_that_arrived_is_tried_on_before_all_work() -> None:
    found = tonight(
        evening(
            work("plug", for_gate=True, begun=True),
            work("lever:try_on", 5.0, part="p2", stage=2),
            work("rim:try_on", 10.0, part="p1", last_return="2026-12-01"),
        ),
        2.0,
    )
    # The one that may go back only until a day comes first.
    assert keys(found) == ["rim:try_on", "lever:try_on", "plug"]
    assert found.entries[0].why == "It is here and has not been tried on; it can be sent back until 2026-12-01."
    why = "It is here and has not been tried on; a wrong one can be sent back only for a while."
    assert found.entries[1].why == why


def test_loose_ends_are_seen_to_first_whatever_the_hours() -> None:
    loose = (
        EveningLoose(handle="l1", what="rags", words="two rags in the intake ports", count=2),
        EveningLoose(handle="l2", what="loose", words="mirror stem finger-tight"),
    )
    found = tonight(evening(work("plug", 30.0), loose=loose), 1.0)
    assert found.first == loose and keys(found) == ["plug"]
    assert found.why == "1 piece of work and 30 minutes to spare."
    assert tonight(evening(loose=loose), 0.0).first == loose
    assert tonight(evening(loose=loose[:1]), 1.0).why == "1 loose end first, then nothing."


# ---- tests ----


def test_a_test_with_covers_to_be_put_on() -> None:
    """The question wants seat and tank on, and after a yes more can be done."""
    off = (replace(SEAT, off=True), replace(TANK, off=True), ENGINE)
    found = tonight(
        evening(
            work("plug", 20.0, for_gate=True, covers=("seat", "tank"), tail_minutes=90.0),
            gate(after=("plug",), covers_on=("seat", "tank"), tail_minutes=60.0),
            work("rack", 30.0, stage=1, after=("gate:turns",)),
            covers=off,
        ),
        2.0,
    )
    assert keys(found) == ["plug", "gate:turns", "rack"]
    _, test, after = found.entries
    # Inner covers go on first: the tank lies under the seat. 20 + 5 minutes.
    assert (test.first_on, test.first_off, test.minutes_covers, test.kind) == (("tank", "seat"), (), 25.0, "gate")
    assert test.why == "All that comes before it is done, and 2 covers put on for it; a yes opens the next stretch."
    assert [entry.if_yes for entry in found.entries] == [False, False, True]
    # 120 - 20 - 25 - 10 - 30.
    assert found.spare_minutes == 35.0 and found.left_open == ()
    assert after.why == "It is next in the plan, and nothing is in the way of it."


def test_a_test_waits_for_all_that_comes_before_it() -> None:
    works = (work("plug", 20.0, for_gate=True, ready=False, waits_for="plugs"), gate(after=("plug",)))
    found = tonight(evening(*works), 2.0)
    assert keys(found) == []
    assert found.nothing == "All that is left to do waits for plugs."


def test_what_belongs_after_the_question_is_done_meanwhile_but_opens_nothing_that_must_be_shut_for_it() -> None:
    waits = work("plug", 20.0, for_gate=True, ready=False, waits_for="plugs (ordered)")
    test = gate(after=("plug",), covers_on=COVER_IDS)
    polish, loom = work("polish", 30.0, stage=1), work("loom", 30.0, stage=1, covers=("seat",))
    found = tonight(evening(waits, test, loom, polish), 2.0)
    assert keys(found) == ["polish"] and not found.entries[0].if_yes
    assert found.entries[0].why == (
        "It belongs after the next question, and nothing before that can be done in what is left of the evening."
    )
    alone = tonight(evening(waits, test, loom), 2.0)
    assert alone.entries == ()
    assert alone.nothing == "Do loom would open what must be shut for the next question; that one comes first."
    # With the seat off already it costs nothing more.
    opened = tonight(evening(waits, test, loom, covers=(replace(SEAT, off=True),)), 2.0)
    assert keys(opened) == ["loom"]


# ---- what does not fit ----


def test_a_job_that_does_not_fit_but_may_be_left_half_done() -> None:
    found = tonight(evening(work("rewire", 300.0, may_split=True, covers=("seat",), for_gate=True)), 2.0)
    (entry,) = found.entries
    assert entry.in_part and entry.fits_chance == 0.0 and entry.minutes == 300.0
    assert entry.why == (
        "'Does it turn over?' cannot be asked before it. It takes 5 hours in all and may be left half done."
    )
    assert found.spare_minutes == 0.0 and found.left_open == ("seat",)


def test_a_job_that_does_not_fit_and_may_not_be_left_half_done() -> None:
    found = tonight(evening(work("seals", 100.0, covers=("seat", "tank"))), 1.5)
    assert found.entries == () and found.spare_minutes == 90.0
    # 20 + 100 minutes.
    assert found.nothing == (
        "Do seals is the shortest that can be done and takes 2 hours with what is in the way; give it 2 hours in one "
        "go."
    )
    assert keys(tonight(evening(work("seals", 100.0, covers=("seat", "tank"))), 2.0)) == ["seals"]


def test_what_takes_longer_than_any_evening_is_begun_in_its_turn_and_what_does_not_is_put_off() -> None:
    big = work("rewire", 300.0, may_split=True, for_gate=True)
    small = work("mirror", 20.0)
    assert [(entry.key, entry.in_part) for entry in tonight(evening(big, small), 2.0).entries] == [("rewire", True)]
    # 100 minutes would fit into a whole evening, but not after 50 others: the small one goes first, and 50 are left.
    put_off = tonight(
        evening(work("bearing", 50.0, for_gate=True, begun=True),
                work("fork", 100.0, may_split=True, for_gate=True), small), 2.0,
    )
    assert [(entry.key, entry.in_part) for entry in put_off.entries] == [
        ("bearing", False), ("mirror", False), ("fork", True)]
    assert put_off.spare_minutes == 0.0
    # With 15 minutes left nobody lays out tools for it.
    tight = tonight(evening(work("bearing", 105.0, begun=True), work("fork", 100.0, may_split=True)), 2.0)
    assert keys(tight) == ["bearing"] and tight.spare_minutes == 15.0


def test_it_fits_from_six_in_ten_on() -> None:
    # Independent: the 60 % point of the log-normal, by the standard library.
    needed = 60.0 * 2.718281828459045 ** (0.35 * NormalDist().inv_cdf(0.6))
    assert NormalDist().inv_cdf(FITS_FROM) == pytest.approx(FITS_Z, abs=1e-9)
    assert needed == pytest.approx(65.6, abs=0.1)
    spread = work("pump", 60.0, log_sd=0.35)
    assert tonight(evening(spread), (needed - 0.1) / 60.0).entries == ()
    (entry,) = tonight(evening(spread), (needed + 0.1) / 60.0).entries
    assert 0.6 <= entry.fits_chance < 0.61


@given(st.floats(1.0, 500.0), st.floats(0.05, 1.0), st.floats(1.0, 900.0))
def test_the_chance_is_that_of_the_log_normal(minutes: float, log_sd: float, left: float) -> None:
    from math import log

    independent = NormalDist(mu=log(minutes), sigma=log_sd).cdf(log(left))
    assert fits_chance(minutes, log_sd, left) == pytest.approx(independent, abs=1e-12)


# ---- hands ----


def test_a_helper_job() -> None:
    two = work("swingarm", 40.0, helper=True)
    behind = work("clutch", 20.0, covers=("seat", "tank", "engine"))
    alone = tonight(evening(two, behind), 5.0)
    assert alone.entries == ()
    assert alone.nothing == (
        "What can be done takes two (do swingarm and do clutch); it waits for a day on which somebody helps."
    )
    helped = tonight(evening(two, behind, helper_here=True), 5.0)
    # 40, then 5 + 15 + 90 for the covers and 20.
    assert keys(helped) == ["swingarm", "clutch"] and helped.spare_minutes == 300.0 - 40.0 - 110.0 - 20.0
    assert helped.entries[1].caution == "Held by a jack before the last bolt"


def test_brakes_late_and_fuel_alone() -> None:
    brakes = work("calipers", 20.0, late="No brake job late at night.", caution="Brake fluid eats paint.")
    found = tonight(evening(work("wash", 95.0, begun=True), brakes), 2.0)
    assert found.entries[1].caution == "No brake job late at night. Brake fluid eats paint"
    # Done first it is not late; nor 95 minutes into a day of five hours (late there: after 225).
    assert tonight(evening(brakes), 2.0).entries[0].caution == "Brake fluid eats paint"
    assert tonight(evening(work("wash", 95.0, begun=True), brakes), 5.0).entries[1].caution == "Brake fluid eats paint"
    fuel = work("tank_look", alone="Not alone with fuel.")
    assert tonight(evening(fuel), 2.0).entries[0].caution == "Not alone with fuel"
    assert tonight(evening(fuel, helper_here=True), 2.0).entries[0].caution == ""
    # A record that says nothing of helpers holds nothing back, but it tells.
    unsaid = evening(replace(fuel, helper=True), helper_here=True, help_known=False)
    assert tonight(unsaid, 2.0).entries[0].caution == "Not alone with fuel"


def test_a_way_round_comes_before_what_else_waits_for_the_question() -> None:
    found = tonight(evening(work("plug", for_gate=True, tail_minutes=500.0), work("way:turns:0", 40.0)), 2.0)
    assert keys(found) == ["way:turns:0", "plug"]
    assert found.entries[0].why == "The question was answered no, and this is the first way round."


def test_a_look_says_why() -> None:
    look = work("look:walk_round", kind="look", tail_minutes=300.0)
    (entry,) = tonight(evening(look), 2.0).entries
    assert entry.why == "What it finds is known before the work after it; 5 hours of evenings hang on it."
    told = replace(look, shows="damage to the fork (about 3 in 10)", tail_minutes=0.0)
    (entry,) = tonight(evening(told), 2.0).entries
    assert entry.why == "It would show damage to the fork (about 3 in 10)."


# ---- nothing ----


def test_a_day_off() -> None:
    found = tonight(evening(work("plug"), planned_minutes=0), 0.0)
    assert found.entries == () and found.why == "Nothing can be done tonight."
    assert found.nothing == (
        "There are no hours for it tonight and none are planned on this day; say how many there are after all, and the "
        "list is made anew."
    )
    # Whoever has time all the same is not sent away.
    assert keys(tonight(evening(work("plug"), planned_minutes=0), 1.0)) == ["plug"]


def test_nothing_to_do() -> None:
    assert tonight(evening(), 2.0).nothing == "No work is left that is known of."
    waits = evening(
        work("pump", ready=False, waits_for="the pump cover"), work("seal", ready=False, waits_for="the pump cover"),
        work("rim", ready=False, waits_for="front rim"), next_arrival="pump cover, usually by 2026-12-04",
    )
    assert tonight(waits, 2.0).nothing == (
        "All that is left to do waits for the pump cover and front rim. Expected next: pump cover, usually by "
        "2026-12-04."
    )


@pytest.mark.parametrize("hours", [-0.5, 24.5, float("nan")])
def test_hours_that_no_evening_has(hours: float) -> None:
    with pytest.raises(AnswerError, match="0 to 24 hours"):
        tonight(evening(), hours)


# ---- laws ----

@st.composite
def evenings(draw: st.DrawFn) -> Evening:
    count = draw(st.integers(0, 7))
    works = []
    for index in range(count):
        deepest = draw(st.integers(0, 3))
        works.append(
            work(
                f"w{index}", float(draw(st.integers(0, 200))), covers=COVER_IDS[:deepest],
                log_sd=draw(st.sampled_from((0.0, 0.35))), ready=draw(st.booleans()), stage=draw(st.integers(0, 1)),
                after=tuple(f"w{before}" for before in range(index) if draw(st.booleans()) and before % 2),
                may_split=draw(st.booleans()), helper=draw(st.booleans()), for_gate=draw(st.booleans()),
                tail_minutes=float(draw(st.integers(0, 600))), cure_days=draw(st.integers(0, 1)),
                part=draw(st.sampled_from(("", "", "p1"))), begun=draw(st.booleans()),
            )
        )
    first = tuple(one.key for one in works if one.stage == 0)
    works.append(gate(after=first, covers_on=COVER_IDS[draw(st.integers(0, 3)) :]))
    off = draw(st.integers(0, 3))
    covers = tuple(replace(one, off=index < off) for index, one in enumerate((SEAT, TANK, ENGINE)))
    return evening(*works, covers=covers, helper_here=draw(st.booleans()))


@given(evenings(), st.floats(0.0, 10.0))
@settings(max_examples=150)
def test_laws_of_every_list(given_evening: Evening, hours: float) -> None:
    found = tonight(given_evening, hours)
    by_key = {one.key: one for one in given_evening.works}
    by_name = {one.name: one for one in given_evening.covers}
    listed = keys(found)
    assert len(set(listed)) == len(listed)
    assert bool(found.entries) != bool(found.nothing)
    off = {one.id for one in given_evening.covers if one.off}
    done: set[str] = set()
    left = 60.0 * hours
    tested = False
    for number, entry in enumerate(found.entries):
        one = by_key[entry.key]
        # Ready, after what comes before it, never for one alone what takes two.
        assert one.ready and not set(one.after).intersection(by_key.keys() - done)
        moved = [by_name[name] for name in (*entry.first_off, *entry.first_on)]
        assert given_evening.helper_here or not (one.helper or any(cover.helper for cover in moved))
        for name in entry.first_off:
            assert by_name[name].id not in off and off.issuperset(by_name[name].under)
            off.add(by_name[name].id)
        for name in entry.first_on:
            assert by_name[name].id in off and not any(
                by_name[name].id in other.under and other.id in off for other in given_evening.covers)
            off.discard(by_name[name].id)
        assert off.issuperset(one.covers) and not off.intersection(one.covers_on)
        assert entry.if_yes == tested
        minutes = sum(by_name[name].minutes_off for name in entry.first_off) + sum(
            by_name[name].minutes_on for name in entry.first_on)
        assert entry.minutes_covers == pytest.approx(minutes)
        if entry.in_part:
            assert one.may_split and number == len(listed) - 1 and left - minutes >= 20.0
            left = 0.0
        else:
            assert entry.fits_chance >= FITS_FROM
            left -= minutes + one.minutes
            done |= {one.key} if one.cure_days == 0 else set()
        tested = tested or one.kind == "gate"
        assert entry.why.endswith(".")
    assert found.spare_minutes == pytest.approx(max(left, 0.0), abs=1e-6)
    assert set(found.left_open) == {cover.name for cover in given_evening.covers if cover.id in off}


@given(evenings(), st.floats(0.5, 5.0))
def test_more_hours_never_empty_a_list(given_evening: Evening, hours: float) -> None:
    assert not tonight(given_evening, hours).entries or tonight(given_evening, hours + 1.0).entries


def test_what_is_tested_closed_up_has_its_covers_put_on_first() -> None:
    fit = work("hose", 20.0, covers=("seat", "tank"))
    pressure = work("pressure", 10.0, after=("hose",), covers_on=("tank",))
    open_now = (replace(SEAT, off=True), replace(TANK, off=True), ENGINE)
    found = tonight(evening(fit, pressure, covers=open_now), 2.0)
    # Hand-worked: 20 for the hose, then 20 for the tank and 10 for the test.
    assert keys(found) == ["hose", "pressure"] and found.spare_minutes == 70.0
    assert found.entries[1].first_on == ("tank",) and found.entries[1].minutes_covers == 20.0
    # Other work behind the same cover that waits for its part: nobody closes it for a test in between.
    waits = work("pump", 20.0, covers=("seat", "tank"), ready=False, waits_for="the pump")
    assert keys(tonight(evening(fit, pressure, waits, covers=open_now), 2.0)) == ["hose"]
