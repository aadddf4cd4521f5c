"""The one thing to do next: its order, its cautions, and that nobody is ever left without one.

Expected steps are hand-worked from the record of each test by the order that the module states; minutes and texts of
the trade data are looked up in the trade data, not copied.
"""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from pathlib import Path
from typing import Any, get_args

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from tests.acts.fitted import fitted_machines
from wreckwright.acts import ask
from wreckwright.answers.bid import bid
from wreckwright.answers.fit import fit
from wreckwright.answers.next_step import next_step
from wreckwright.answers.types import Bid, Choice, MapDoubt, NextStep, Verdict
from wreckwright.answers.verdict import verdict
from wreckwright.futures.draw import draw, play
from wreckwright.futures.scene import Futures
from wreckwright.record.file import read_record
from wreckwright.record.resolve import resolve
from wreckwright.record.types import Machine
from wreckwright.trade.load import load_trade

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
TRADE = load_trade()
DAY = dt.date(2026, 11, 20)
OUTSIDE = ("papers", "key_turns", "chip_read", "unit_learns", "numbers_belong")
SINKING = ("turns", "straight", "runs")
HARMFUL = frozenset(TRADE.checks[name].name for name in TRADE.cautions["flood_electric"].applies_to)
"""What turns the engine or puts power on it."""


@lru_cache(maxsize=3)
def example(name: str) -> tuple[ask.Opened, Futures]:
    opened = ask.open_machine(ask.Question(machine=EXAMPLES / f"{name}.toml"))
    return opened, play(draw(opened.known, opened.trade, n=400))


@lru_cache(maxsize=1)
def answers() -> tuple[Verdict, Bid]:
    """Real ones, of which the tests then change what they are about."""
    _, futures = example("sorrel")
    return verdict(futures), bid(futures)


def doubt(*looks: str, rests: bool = True) -> MapDoubt:
    return MapDoubt(flip_chance=0.34, rests_on_it=rests, look_first=looks, words="another is best: about 3 in 10")


def machine(**over: Any) -> Machine:
    plain: dict[str, Any] = {
        "nickname": "Thistle", "machine_class": "naked", "year": 2016, "as_of": "2026-11-20",
        "purchase": {"bought": True, "price_minor": 80000},
    }
    return read_record(msgspec.json.encode(plain | over))


def gates(*templates: str, answer: str = "yes") -> list[dict[str, Any]]:
    return [{"template": name, "answer": answer} for name in templates]


ALL_ASKED = gates(*OUTSIDE, *SINKING)


def step(
    record: Machine, *, choice: Choice = "carry_on", map_doubt: MapDoubt | None = None,
    damage: dict[str, float] | None = None, causes: dict[str, float] | None = None,
    walk_away_minor: int | None = 120_000,
) -> NextStep:
    known = resolve(record, TRADE, as_of=DAY)
    chance = damage or {}
    weighed, most = answers()
    return next_step(
        known, TRADE, damage=chance, cause_chance=causes or {},
        verdict=replace(weighed, choice=choice, map_doubt=map_doubt),
        bid=replace(most, walk_away_minor=walk_away_minor, currency="EUR"),
        fit=fit(record, TRADE, damage=chance, as_of=DAY),
    )


# ---- questions that can sink it ----


def test_the_cheapest_question_nobody_has_asked_comes_first() -> None:
    found = step(machine(gates=gates("key_turns", "chip_read")))
    # Left are papers 5 min, numbers 5, straight 5, unit 6, turns 8; "runs" is asked by telephone, of a machine that
    # stands here. Without damage the likeliest no is that of the papers (7 in 100; numbers 4, straight 0).
    assert (found.kind, found.words) == ("ask", f"Find out: {TRADE.gates['papers'].question}")
    assert found.minutes == TRADE.checks["ask_papers"].minutes
    assert "must end in yes (a no: about 1 in 10, trade judgement)" in found.why
    assert TRADE.checks["ask_papers"].caution in found.cautions


def test_of_equally_quick_questions_the_likelier_no_comes_first() -> None:
    found = step(machine(gates=gates("key_turns", "chip_read")), damage={"frame_head": 0.2, "frame_spars": 0.1})
    check = TRADE.checks["sight_and_swing"]
    assert (found.kind, found.words, found.minutes) == ("look", check.name, check.minutes)
    # What it is about, for whoever writes down what came of it.
    assert (found.gate, found.check) == ("straight", "sight_and_swing")
    # 1 - 0.8 * 0.9 = 0.28
    assert "a no: about 3 in 10" in found.why
    # What has to be seen to before a test is part of the advice.
    assert found.cautions[0] == check.caution
    assert set(TRADE.gates["straight"].guards) <= set(found.cautions)


@pytest.mark.parametrize("answer", ["yes", "no", "way_round"])
def test_an_answered_question_is_not_asked_again(answer: str) -> None:
    record = machine(gates=gates("papers", answer=answer) + gates(*OUTSIDE[1:], *SINKING))
    assert TRADE.gates["papers"].question not in step(record).words


def test_the_three_quick_questions_answer_their_gates() -> None:
    record = machine(key_starts_it="yes", turns_over="yes", papers_right="yes", gates=gates("numbers_belong"))
    assert step(record).words == TRADE.checks["sight_and_swing"].name


def test_an_answer_that_is_waited_for_is_not_asked_for_again() -> None:
    waited = [{"template": "papers", "wait_days": 24}]
    assert "Find out" not in step(machine(gates=waited + gates(*OUTSIDE[1:], *SINKING))).words


def test_a_rough_look_that_was_taken_is_not_asked_for_again() -> None:
    asked = gates(*OUTSIDE, "turns", "runs")
    assert step(machine(gates=asked)).words == TRADE.checks["sight_and_swing"].name
    looked = [{"component": "steering_stop", "check": "sight_and_swing", "looked_fine": True}]
    assert step(machine(gates=asked, findings=looked)).words != TRADE.checks["sight_and_swing"].name


@pytest.mark.parametrize("fine", [True, False])
def test_nobody_takes_a_rough_look_at_what_is_known(fine: bool) -> None:
    seen = [{"component": name, "looked_fine": fine} for name in ("frame_head", "frame_spars")]
    found = step(machine(gates=gates(*OUTSIDE, "turns", "runs"), findings=seen))
    assert found.words != TRADE.checks["sight_and_swing"].name


def test_a_lot_is_asked_after_by_telephone_before_anybody_goes_there() -> None:
    lot: dict[str, Any] = {"purchase": {"price_minor": 80000}}
    found = step(machine(**lot), damage={"ignition_lock": 0.1})
    assert (found.kind, found.words) == ("ask", TRADE.checks["ask_key_turns"].name)
    # A film is asked for of a lot only, and before a look that would take the trip.
    found = step(machine(**lot, gates=gates(*OUTSIDE)))
    assert (found.kind, found.words) == ("ask", TRADE.checks["ask_start_film"].name)
    found = step(machine(**lot, gates=gates(*OUTSIDE, "runs")))
    assert (found.kind, found.words) == ("look", TRADE.checks["sight_and_swing"].name)


# ---- water and fire ----


@pytest.mark.parametrize("bought", [True, False])
@pytest.mark.parametrize("what", ["water", "fire"])
def test_a_wet_or_burnt_machine_gets_no_power_and_is_not_turned_before_somebody_has_looked(
    what: str, bought: bool
) -> None:
    record = machine(what_hit=[what], purchase={"bought": bought, "price_minor": 1000})
    said = []
    for known in range(len(OUTSIDE) + 1):
        found = step(replace(record, gates=machine(gates=gates(*OUTSIDE[:known])).gates))
        said.append(found.words)
        assert found.cautions[:1] in ((), (TRADE.cautions["flood_electric"].text,))
    assert said and not HARMFUL.intersection(said)


def test_chance_alone_makes_it_a_wet_machine_too() -> None:
    record = machine(gates=gates(*OUTSIDE, "straight"))
    assert step(record).words == TRADE.checks["turn_rear_wheel"].name
    found = step(record, causes={"water_flood": 0.2})
    # Of the looks that tell of the engine's inside and turn nothing, the oil costs less to get at than the plugs.
    oil, plugs = TRADE.checks["oil_cut"], TRADE.checks["borescope"]
    drain = TRADE.covers["oil_drain"]
    assert drain.under == () and oil.covers == ("oil_drain",)
    assert (found.words, found.minutes) == (oil.name, oil.minutes + drain.minutes_off + drain.minutes_on)
    above = ("seat_off", "battery_out", "tank_off", "airbox_off", "coils_off", "plugs_out")
    assert found.minutes < plugs.minutes + sum(
        TRADE.covers[name].minutes_off + TRADE.covers[name].minutes_on for name in above
    )
    assert found.cautions[0] == TRADE.cautions["flood_electric"].text
    # A chance that the trade data hold too small for a caution changes nothing.
    assert step(record, causes={"water_flood": 0.1}).words == TRADE.checks["turn_rear_wheel"].name


def test_the_first_start_of_a_wet_machine_waits_for_the_looks_that_the_trade_data_ask_for() -> None:
    start = TRADE.checks["first_start"]
    record = machine(what_hit=["water"], gates=gates(*OUTSIDE, "turns", "straight"))
    fine: list[dict[str, Any]] = []
    asked = []
    for _ in start.unblocked_by:
        found = step(replace(record, findings=machine(findings=fine).findings), causes={"water_flood": 0.6})
        check = next(one for one in TRADE.checks.values() if one.name == found.words)
        asked.append(check.id)
        assert found.cautions[:2] == (TRADE.cautions["flood_electric"].text, check.caution) or not check.caution
        fine += [{"component": one.component, "check": check.id, "looked_fine": True} for one in check.detects]
    assert tuple(asked) == start.unblocked_by
    found = step(replace(record, findings=machine(findings=fine).findings), causes={"water_flood": 0.6})
    assert found.words == f"Try it on the bench: {TRADE.gates['runs'].question}"
    assert "extinguisher to hand, outdoors or with extraction" in found.cautions


def test_a_dry_machine_is_started_without_them() -> None:
    found = step(machine(gates=gates(*OUTSIDE, "turns", "straight")))
    assert found.words == f"Try it on the bench: {TRADE.gates['runs'].question}"


# ---- after the questions ----


def test_a_no_leads_to_the_first_way_round() -> None:
    row = {"template": "papers", "answer": "no", "ways_round": [
        {"name": "Duplicate", "chance": 0.8, "price_minor": 18000, "wait_days": 45, "minutes": 120}]}
    found = step(machine(gates=[row, *gates(*OUTSIDE[1:], *SINKING)]))
    assert (found.kind, found.words, found.minutes) == ("do", "Duplicate", 120)
    assert "was answered no" in found.why and "about 8 in 10" in found.why and "EUR 180" in found.why


def test_the_look_on_which_the_verdict_rests() -> None:
    record = machine(gates=ALL_ASKED)
    found = step(record, map_doubt=doubt("front brake discs", "radiator"))
    discs = TRADE.components["front_discs"]
    assert found.kind == "look" and found.words.startswith("Look at the front brake discs: ")
    assert found.minutes == discs.look_minutes
    assert "about 3 in 10 that another choice is best" in found.why


@pytest.mark.parametrize("seen", [{"looked_fine": True}, {"condition": "scored"}])
def test_what_was_looked_at_already_is_not_named_again(seen: dict[str, Any]) -> None:
    record = machine(gates=ALL_ASKED, findings=[{"component": "front_discs", **seen}])
    found = step(record, map_doubt=doubt("front brake discs", "radiator"))
    assert found.words.startswith("Look at the radiator: ")


def test_american_words_find_their_component() -> None:
    record = machine(gates=ALL_ASKED, owner={"words": "us"})
    component = next(row for row in TRADE.components.values() if row.name_us != row.name_uk)
    name = component.name_us[:1].lower() + component.name_us[1:]
    found = step(record, map_doubt=doubt(name))
    assert found.words.startswith(f"Look at the {name}: ") and found.minutes == component.look_minutes


def test_a_verdict_that_does_not_rest_on_guesses_asks_for_no_look() -> None:
    assert step(machine(gates=ALL_ASKED), map_doubt=doubt("radiator", rests=False)).kind == "prove"


def test_of_a_lot_only_what_shows_from_outside_is_looked_at() -> None:
    lot = machine(purchase={"price_minor": 80000}, gates=ALL_ASKED)
    hidden, shows = TRADE.components["top_end"], TRADE.components["radiator"]
    assert hidden.seen_from != "walk_round" and shows.seen_from == "walk_round"
    names = [row.name_uk[:1].lower() + row.name_uk[1:] for row in (hidden, shows)]
    assert step(lot, map_doubt=doubt(*names)).words.startswith(f"Look at the {names[1]}: ")
    assert step(lot, map_doubt=doubt(names[0])).kind == "bid"


def test_the_look_at_a_wet_machine_needs_no_power() -> None:
    wet = machine(what_hit=["water"], gates=ALL_ASKED)
    found = step(wet, map_doubt=doubt("wiring loom and connectors"))
    assert found.words == f"{TRADE.checks['loom_walk'].name}, for the wiring loom and connectors"
    assert found.cautions[0] == TRADE.cautions["flood_electric"].text


@pytest.mark.parametrize(
    ("choice", "words"), [("sell_as_it_stands", "Sell it as it stands"), ("part_out", "Part it out")]
)
def test_nobody_is_sent_to_work_on_what_had_better_be_sold(choice: Choice, words: str) -> None:
    part = {"component": "mirror_l", "name": "Left mirror", "state": "here"}
    found = step(machine(gates=ALL_ASKED, parts=[part]), choice=choice)
    assert (found.kind, found.words) == ("sell", words)
    assert found.why.endswith(".") and ";" not in found.why
    assert step(machine(gates=ALL_ASKED, parts=[part]), choice="too_close_to_call").kind == "fit"


WHEEL_COVERS = ("paddock_rear", "front_stand", "front_wheel_out")
"""What comes off for a front wheel: it lies under the front stand, and that under the rear one."""


def test_a_part_that_is_here_is_fitted() -> None:
    part = {"component": "front_wheel", "name": "Front rim, straight", "state": "here"}
    found = step(machine(gates=ALL_ASKED, parts=[part], owner={"pace": 1.5}))
    assert (found.kind, found.words) == ("fit", "Fit: Front rim, straight")
    # 1.5 times the trade's minutes, covers off and on.
    wheel = TRADE.components["front_wheel"]
    covers = sum(TRADE.covers[name].minutes_off + TRADE.covers[name].minutes_on for name in WHEEL_COVERS)
    assert found.minutes == pytest.approx(1.5 * (wheel.fit_minutes + covers))
    assert TRADE.cautions["used_ride_parts"].text in found.cautions


def test_covers_that_are_off_cost_no_minutes() -> None:
    part = {"component": "front_wheel", "name": "Front rim", "state": "here"}
    off = machine(gates=ALL_ASKED, parts=[part], covers_off=list(WHEEL_COVERS))
    assert step(off).minutes == pytest.approx(TRADE.components["front_wheel"].fit_minutes)


def test_own_jobs_the_open_one_first() -> None:
    jobs = [
        {"id": "wait", "name": "Needs the pump", "parts": ["p1"]},
        {"id": "later", "name": "After the wash", "after": ["wash"], "minutes": {"low": 5, "likely": 40, "high": 60}},
        {"id": "ready", "name": "Bleed it", "state": "can_be_done"},
        {"id": "begun", "name": "Valves", "state": "open", "minutes": {"low": 90, "likely": 130, "high": 220},
         "done_minutes": 50},
        {"id": "wash", "name": "Wash", "state": "proved"},
    ]
    parts = [{"id": "p1", "component": "water_pump", "state": "ordered"}]

    def said(*, without: tuple[str, ...] = (), **over: Any) -> NextStep:
        rows = [job for job in jobs if job["id"] not in without]
        return step(machine(gates=ALL_ASKED, jobs=rows, parts=over.get("parts", parts)))

    first = said()
    assert (first.kind, first.words, first.minutes) == ("do", "Valves", 130 - 50)
    assert said(without=("begun",)).words == "Bleed it"
    assert said(without=("begun", "ready")).words == "After the wash"
    assert said(without=("begun", "ready", "later")).kind != "do"
    here = [{**parts[0], "state": "fitted"}]
    assert said(without=("begun", "ready", "later"), parts=here).words == "Needs the pump"


def test_a_bench_test_comes_before_the_money() -> None:
    own = {"id": "squeeze", "question": "Is there compression?", "kind": "bench"}
    wanted = {"id": "p1", "component": "tyres", "name": "Tyres", "state": "wanted", "price_minor": 11900,
              "supplier": "Ledbrook"}
    record = machine(gates=[own, *ALL_ASKED], parts=[wanted])
    found = step(record)
    assert (found.kind, found.words) == ("look", "Try it on the bench: Is there compression?")
    assert (found.gate, found.check) == ("squeeze", "")
    # A job that must come before it keeps it back; then what nothing holds back is ordered.
    job = {"name": "Soak it", "before_gate": "squeeze", "parts": ["p1"]}
    found = step(machine(gates=[own, *ALL_ASKED], parts=[wanted], jobs=[job]))
    assert (found.kind, found.words) == ("get", "Order from Ledbrook: Tyres (EUR 119)")


def test_what_is_held_back_by_an_open_question_is_not_ordered() -> None:
    held = {"id": "p1", "component": "tyres", "name": "Tyres", "state": "wanted", "held_until_gate": "mine"}
    gate = {"id": "mine", "template": "papers", "wait_days": 20}
    found = step(machine(gates=[gate, *gates(*OUTSIDE[1:], *SINKING)], parts=[held]))
    assert (found.kind, found.words) == ("wait", f"Wait for the answer to '{TRADE.gates['papers'].question}'")
    answered = {**gate, "answer": "yes"}
    found = step(machine(gates=[answered, *gates(*OUTSIDE[1:], *SINKING)], parts=[held]))
    assert found.words == "Order: Tyres"


def test_what_can_hurt_is_got_before_what_only_looks_bad() -> None:
    record = machine(gates=ALL_ASKED, findings=[
        {"component": "screen", "severity": 1}, {"component": "lever_clutch", "severity": 1}, {"component": "mirror_l"},
        {"component": "front_wheel", "severity": 3}])
    found = step(record)
    assert found.kind == "get" and found.words.startswith("Find and order: front wheel (")
    assert "can hurt" in found.why
    # With a line under way there is something else to do.
    ordered = [{"component": "front_wheel", "state": "ordered"}, {"component": "mirror_l", "state": "shipped"}]
    assert "clutch lever" in step(replace(record, parts=machine(parts=ordered).parts)).words
    # What is left as it is asks for nothing: the screen, for it only looks bad; the lever, if its owner says so.
    left = machine(remedies=[{"component": "lever_clutch", "remedy": "leave"}]).remedies
    assert step(replace(record, parts=machine(parts=ordered).parts, remedies=left)).kind == "wait"


def test_what_is_mended_is_work_to_do() -> None:
    row = {"component": "steering_stop", "remedy": "repair"}
    found = step(machine(gates=ALL_ASKED, findings=[{"component": "steering_stop"}], remedies=[row]))
    assert (found.kind, found.words) == ("do", "Mend the steering stop")
    assert found.minutes is not None and found.minutes > TRADE.components["steering_stop"].fit_minutes


def test_nothing_is_started_while_something_known_forbids_it() -> None:
    stops = next(row.id for row in TRADE.components.values() if row.run == "stop" and row.zone != "papers")
    record = machine(gates=gates(*OUTSIDE, "turns", "straight"), findings=[{"component": stops}],
                     parts=[{"component": stops, "state": "ordered"}])
    assert step(record).kind == "wait"


def test_an_outside_question_with_only_a_first_answer_is_answered_for_good() -> None:
    asked = [{"component": "frame_number", "check": "ask_papers", "looked_fine": True}]
    found = step(machine(gates=gates(*OUTSIDE[1:], *SINKING), findings=asked))
    assert found.kind == "ask" and found.words.startswith("Have it answered for good")
    assert TRADE.gates["papers"].question in found.words
    assert any("(ask: motor-vehicle authority)" in text for text in found.cautions)


def test_what_is_waited_for_is_named_with_its_days() -> None:
    parts = [{"component": "water_pump", "name": "Pump cover", "state": "ordered", "ordered_on": "2026-10-16"},
             {"component": "mirror_l", "name": "Mirror", "state": "shipped", "ordered_on": "2026-11-19"},
             {"component": "seat", "state": "part_arrived"}, {"component": "tyres", "state": "deposit_paid"}]
    found = step(machine(gates=ALL_ASKED, parts=parts))
    # 16 October to 20 November: 15 + 20 = 35 days.
    assert found.words == "Wait for pump cover (ordered 35 days ago), mirror (ordered 1 day ago), seat and 1 more"
    assert found.minutes is None


def test_the_first_heading_that_nothing_bad_keeps_open_is_proved() -> None:
    headings = list(TRADE.fit_items.values())
    found = step(machine(gates=ALL_ASKED))
    assert found.kind == "prove"
    assert found.words == f"Prove it by hand: {headings[0].name}. {headings[0].how_proved}"
    proved = [{"item": headings[0].id, "how": "by hand"}]
    assert headings[1].name in step(machine(gates=ALL_ASKED, proofs=proved)).words
    stop = [{"component": "steering_stop"}]
    waits = [{"component": "steering_stop", "state": "ordered", "remedy": "used"}]
    keeps = machine(gates=ALL_ASKED, findings=stop, parts=waits)
    # While the part is waited for, waiting comes before proving something else.
    assert step(keeps).kind == "wait"


def test_nobody_rides_before_every_heading_is_proved() -> None:
    proofs = [{"item": name, "how": "by hand", "second_person": "Wren"} for name in TRADE.fit_items]
    found = step(machine(gates=ALL_ASKED, proofs=proofs))
    assert found.words == f"Road test: {TRADE.gates['fit_to_ride'].question}"
    assert "a second person has read the list" in found.cautions
    ridden = gates(*OUTSIDE, *SINKING, "fit_to_ride")
    assert step(machine(gates=ridden, proofs=proofs)).words == "Put it up for sale"
    keeper = step(machine(gates=ridden, proofs=proofs, owner={"aim": "keep"}))
    assert (keeper.kind, keeper.words) == ("hand_over", "Ride it where law, plate and insurance allow")


def test_a_lot_ends_with_its_price() -> None:
    lot = machine(purchase={"price_minor": 80000}, gates=ALL_ASKED)
    assert step(lot).words == "Buy it for EUR 1,200 at most, or leave it"
    assert (step(lot, walk_away_minor=None).kind, step(lot, walk_away_minor=None).words) == ("bid", "Leave it")


# ---- the whole way ----


@given(fitted_machines(), st.sampled_from(get_args(Choice)), st.booleans())
@settings(max_examples=30)
def test_there_is_always_something_to_do(record: Machine, choice: Choice, rests: bool) -> None:
    record = replace(record, mirrored=False)
    known = resolve(record, TRADE, as_of=record.as_of or DAY)
    weighed, most = answers()
    found = next_step(
        known, TRADE, damage={}, cause_chance={}, bid=most, fit=fit(record, TRADE, damage={}, as_of=known.as_of),
        verdict=replace(weighed, choice=choice, map_doubt=doubt("radiator", "water pump", rests=rests)),
    )
    assert found.words.strip() and not found.words.endswith(".") or found.kind == "prove"
    assert found.why.strip().endswith(".")
    assert found.minutes is None or found.minutes >= 0.0
    assert len(set(found.cautions)) == len(found.cautions) and all(found.cautions)


def followed(record: Machine, said: NextStep) -> Machine:
    """The record after the advice was followed and all went well."""
    plain: dict[str, Any] = msgspec.json.decode(msgspec.json.encode(record))

    def add(kind: str, row: dict[str, Any]) -> None:
        plain.setdefault(kind, []).append({"id": f"{kind}{len(plain.get(kind, ()))}", **row})

    for gate in TRADE.gates.values():
        if said.words.endswith(gate.question):
            add("gates", {"template": gate.id, "answer": "yes"})
    for check in TRADE.checks.values():
        if said.words == check.name:
            add("findings", {"component": check.detects[0].component, "check": check.id, "looked_fine": True})
    known = resolve(record, TRADE, as_of=DAY)
    for component in TRADE.components.values():
        name = component.name_uk[:1].lower() + component.name_uk[1:]
        if said.words.startswith(f"Find and order: {name} ("):
            add("parts", {"component": component.id, "state": "ordered"})
        elif said.words == f"Mend the {name}":
            add("jobs", {"name": said.words, "component": component.id, "kind": "repair", "state": "closed_up"})
        elif said.words.startswith(f"Look at the {name}: "):
            add("findings", {"component": component.id, "looked_fine": True})
    for part in plain.get("parts", ()):
        if said.kind == "wait":
            part["state"] = "here"
        elif said.kind == "fit" and part.get("state") == "here":
            part["state"] = "fitted"
            break
    for item in TRADE.fit_items.values():
        if said.kind == "prove" and item.name in said.words:
            add("proofs", {"item": item.id, "how": "by hand", "specialist_paper": "certificate"})
    assert known.bought
    return msgspec.convert(plain, Machine)


def test_whoever_follows_the_advice_gets_to_the_end_without_walking_in_circles() -> None:
    record = read_record((EXAMPLES / "minimal" / "sorrel.toml").read_bytes())
    said: list[NextStep] = []
    while not said or said[-1].kind != "hand_over":
        said.append(step(record, map_doubt=doubt("radiator", "water pump")))
        assert [one.words for one in said].count(said[-1].words) == 1 or said[-1].kind in ("wait", "fit")
        assert len(said) < 80
        record = followed(record, said[-1]) if said[-1].kind != "hand_over" else record
    kinds = [one.kind for one in said]
    # Sinking questions before money, money before waiting, proofs last.
    assert kinds.index("get") > kinds.index("ask") and kinds.index("wait") > kinds.index("get")
    assert kinds[-14:] == ["prove"] * 12 + ["look", "hand_over"]


# ---- the machines of the examples ----


def example_step(name: str) -> NextStep:
    opened, futures = example(name)
    return next_step(
        opened.known, opened.trade, damage=futures.damage, cause_chance=futures.scenario, verdict=verdict(futures),
        bid=bid(futures), fit=ask.fit_of(opened, damage=futures.damage),
    )


def test_sorrel_is_sighted_along() -> None:
    # Key and engine are known, the bank is being waited for; numbers and frame cost 5 minutes each, and a bent head is
    # likelier than odd numbers.
    found = example_step("sorrel")
    assert (found.kind, found.words, found.minutes) == ("look", TRADE.checks["sight_and_swing"].name, 5.0)


def test_magpie_is_asked_after_by_telephone() -> None:
    found = example_step("magpie")
    assert (found.kind, found.words, found.minutes) == ("ask", TRADE.checks["ask_start_film"].name, 4.0)


def test_brambles_key_is_tried() -> None:
    found = example_step("bramble")
    assert found.kind == "ask" and found.minutes == 2.0
    assert found.words == f"Find out: {TRADE.gates['key_turns'].question}"
