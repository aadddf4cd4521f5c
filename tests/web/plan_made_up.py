"""Pages of doing made up by hand: a tonight with everything on it, a card, the hands; for tests of their looks."""

from __future__ import annotations

import datetime as dt
from typing import Any

import msgspec

from tests.papers.made_up_plan import running_order
from wreckwright.acts.daytime import daytime
from wreckwright.acts.page_shapes import Choice, Head
from wreckwright.acts.plan_shapes import (
    BatchRow,
    CardPage,
    ErrandRow,
    HandsDay,
    HandsMachine,
    HandsPage,
    HandsTyped,
    JobTyped,
    LooseRow,
    OrderPage,
    RunningWork,
    Standing,
    TonightAllPage,
    TonightMachine,
    TonightPage,
)
from wreckwright.acts.reckon_shapes import Moved
from wreckwright.answers.plan_types import (
    CardCover,
    CardLimit,
    CardPart,
    CardTorque,
    EveningLoose,
    JobCard,
    Minutes3,
    Tonight,
    TonightEntry,
)
from wreckwright.record.types import Machine

UID = "0190"
AT = dt.datetime(2026, 11, 20, 18, 40)
STANDING = Standing(
    state="fresh", step="", share=0.0, stale=False, provisional=False, why="", moved=(), moved_by=()
)
MOVED = msgspec.structs.replace(
    STANDING,
    provisional=True,
    moved=(Moved(name="Finished, half by", before="2027-03-01", now="2027-03-19"),
           Moved(name="Still to spend, half below", before="EUR 1,150", now="EUR 1,240")),
    moved_by=("Fit the fork legs: stub snapped",),
)  # fmt: skip
RUNNING = msgspec.structs.replace(
    STANDING, state="running", step="looking for a better order", share=0.42, stale=True
)
LOOSE = (
    LooseRow(handle="l1", rev=2, what="loose", what_words="left finger-tight", words="lower fork clamp, both screws",
             count=2, work="fork_legs", work_name="Fit the fork legs", photos=(), by="telephone 7f3a", at=AT),
    LooseRow(handle="l2", rev=1, what="rags", what_words="rags in ports", words="intake ports", count=4, work="",
             work_name="", photos=(), by="", at=None),
)  # fmt: skip
AT_IT = RunningWork(uid=UID, nickname="Sorrel", key="fork_legs", name="Fit the fork legs", since=AT, minutes=35,
                    forgotten=False)  # fmt: skip
SNAGS = tuple(
    Choice(value=value, words=words)
    for value, words in (
        ("snapped", "it snapped"),
        ("does_not_fit", "it does not fit"),
        ("arrived_wrong", "the wrong part came"),
        ("missing", "a piece is missing"),
        ("took_longer", "it takes longer"),
    )
)
QUESTION = "Does the engine start and hold its oil pressure?"


def head(**changed: Any) -> Head:
    given: dict[str, Any] = {
        "uid": UID, "nickname": "Sorrel", "about": "2016 tourer", "currency": "EUR", "bought": True, "undecided": 1,
        "as_of": "2026-11-20", "as_of_fixed": True,
    }  # fmt: skip
    return Head(**(given | changed))


def entry(key: str, name: str, minutes: float, why: str, **more: Any) -> TonightEntry:
    given: dict[str, Any] = {
        "kind": "job", "fits_chance": 0.9, "in_part": False, "first_off": (), "minutes_covers": 0.0,
    }  # fmt: skip
    return TonightEntry(key=key, name=name, minutes=minutes, why=why, **(given | more))


def tonight(**changed: Any) -> Tonight:
    given: dict[str, Any] = {
        "hours": 2.0,
        "first": (EveningLoose(handle="l1", what="loose", words="lower fork clamp, both screws", count=2),),
        "entries": (
            entry("mirror_left:try_on", "Try on the left mirror", 10,
                  "It is here and has not been tried on; it can be sent back until 2026-12-02."),
            entry("radiator:strip", "Take the old radiator off", 45,
                  f"'{QUESTION}' cannot be asked before it; 4 hours of evenings hang on it.",
                  first_off=("Fuel tank off", "Right fairing off"), minutes_covers=25.0,
                  caution="Coolant is poisonous to animals: wipe it up at once", film="how the hoses run"),
            entry("gate:first_start", QUESTION, 40, "All that comes before it is done; a yes opens the next stretch.",
                  kind="gate", first_on=("Fuel tank on",), minutes_covers=8.0),
            entry("chain", "Set the chain", 30, "It is next in the plan, and nothing is in the way of it.",
                  in_part=True, if_yes=True),
        ),
        "left_open": ("Right fairing off",),
        "nothing": "",
        "spare_minutes": 12.0,
    }  # fmt: skip
    return Tonight(nickname="Sorrel", as_of="2026-11-20", why="2 loose ends first.", rests_on=(), **(given | changed))


def tonight_page(**changed: Any) -> TonightPage:
    given: dict[str, Any] = {
        "head": head(), "standing": STANDING, "hours": 2.0, "evening": None, "tonight": tonight(), "running": (),
        "loose": LOOSE, "snags": SNAGS,
    }  # fmt: skip
    return TonightPage(**(given | changed))


def tonight_all(**changed: Any) -> TonightAllPage:
    waits = "All that is left to do waits for the rim. Expected next: 2026-12-04."
    empty = tonight(entries=(), first=(), nothing=waits)
    given: dict[str, Any] = {
        "hours": 2.0,
        "machines": (
            TonightMachine(uid=UID, nickname="Sorrel", turn=1, hours=2.0, standing=STANDING, tonight=tonight()),
            TonightMachine(uid="0191", nickname="Bramble", turn=2, hours=0.2, standing=STANDING, tonight=empty),
        ),
        "daytime": daytime([
            (uid, Machine(nickname=name, machine_class="naked", year=2016), running_order(name))
            for uid, name in ((UID, "Sorrel"), ("0191", "Bramble"))
        ]),
        "running": (),
        "snags": SNAGS,
    }
    return TonightAllPage(**(given | changed))


def order_page(**changed: Any) -> OrderPage:
    given: dict[str, Any] = {
        "head": head(),
        "standing": MOVED,
        "order": running_order(),
        "errands": (ErrandRow(handle="e1", rev=1, kind="trip", words="to the alignment bench", day="2026-12-03",
                              wants=("rolls",), gate="", part="", batch="", done=False, answer=""),),
        "batches": (BatchRow(handle="b1", rev=3, name="paint: tank and tail", components=("fuel_tank",),
                             component_names=("fuel tank", "tail fairing"), done_by="a painter", price="180",
                             minimum="150", days="10", colour="dark green", state="gathering",
                             state_words="being gathered", away_on=""),),
        "heat_cycles": 1, "ridden": "", "odometer_unit": "km", "machine_rev": 4,
        "components": (Choice(value="fuel_tank", words="fuel tank"), Choice(value="tail", words="tail fairing")),
        "wants": (Choice(value="rolls", words="it rolls"), Choice(value="steers", words="it steers")),
        "questions": (Choice(value="papers", words="Are the papers right?"),),
        "parts": (Choice(value="p1", words="Left fork leg"),),
    }  # fmt: skip
    return OrderPage(**(given | changed))


def job_card(**changed: Any) -> JobCard:
    given: dict[str, Any] = {
        "key": "fork_legs", "name": "Fit the fork legs", "kind": "job", "component": "fork_legs",
        "minutes": Minutes3(low=110, likely=190, high=320), "done_minutes": 35, "state": "can be done", "began_at": "",
        "handle": "j7", "why": "The next question cannot be asked before it",
        "cautions": ("The front must hang or stand by itself before the axle comes out",),
        "supports": ("Stand under the engine, front wheel clear of the ground",),
        "tools": ("hexagon 6 and 8", "torque wrench up to 60 Nm", "straight edge"), "look_first": (),
        "helper": True,
        "off": (
            CardCover(id="front_wheel_out", name="front wheel out", minutes=25, off_already=False,
                      notes=("Hang the caliper up, not by its hose",), caution="It stands on the stand alone then"),
            CardCover(id="mudguard_off", name="front mudguard off", minutes=10, off_already=True, notes=()),
        ),
        "steps": ("Measure the old one's height over the clamp", "Slide the new leg in from below",
                  "Turn the axle until it goes through both by hand"),
        "parts": (CardPart(handle="p1", name="left fork leg", state="ordered on 2026-11-02",
                           last_return="2026-12-16"),),
        "keep": ("axle", "spacer, left"), "renew": ("clamp screws",), 
        "while_open": (("look:stem", "look at the stem"),),
        "bags": ("Bag: mudguard, 4 screws M6",),
        "back_on": (CardCover(id="mudguard_off", name="front mudguard", minutes=10, off_already=True, notes=()),
                    CardCover(id="front_wheel_out", name="front wheel", minutes=30, off_already=False, notes=()),),
        "torques": (CardTorque(where="lower clamp", nm=None, words="find the maker's figure: steering", basis=""),
                    CardTorque(where="mudguard, M6", nm=9.0, words="9 Nm", basis="estimate, M6 8.8")),
        "limits": (CardLimit(what="height of both legs", words="the same within 0.5 mm; never measured"),),
        "film": ("the run of the hose",), "may_split": False, "cure_days": 0,
        "siblings": (("fork_legs:try_on", "try on the fork legs", True), ("fork_legs", "fit the fork legs", False),
                     ("fork_legs:test", "test the fork legs", False)),
        "basis": "judgement",
    }  # fmt: skip
    return JobCard(**(given | changed))


def card_page(**changed: Any) -> CardPage:
    given: dict[str, Any] = {
        "head": head(), "standing": STANDING, "key": "fork_legs", "kind": "job", "name": "Fit the fork legs",
        "card": job_card(), "gone": "", "handle": "j7", "rev": 3, "done": False,
        "can": ("start", "done", "edit", "cover_off", "cover_on", "snag", "leave"), "running": None,
        "typed": JobTyped(minutes="190", steps="Measure\nSlide in"), "snags": SNAGS, "pieces": ("axle", "clamp screws"),
        "part_choices": (Choice(value="p1", words="Left fork leg"),),
        "cover_choices": (Choice(value="front_wheel_out", words="front wheel out"),),
        "job_choices": (Choice(value="j1", words="valves"),), "question_choices": (), "loose": (),
    }  # fmt: skip
    return CardPage(**(given | changed))


WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def hands_page(**changed: Any) -> HandsPage:
    week = (0, 120, 0, 120, 0, 240, 0)
    start = dt.date(2026, 11, 20)
    days = tuple(start + dt.timedelta(days=ahead) for ahead in range(21))
    given: dict[str, Any] = {
        "machines": tuple(
            HandsMachine(uid=uid, nickname=nickname, turn=turn, calendar_rev=1, same=turn < 3)
            for turn, (uid, nickname) in enumerate((("0190", "Sorrel"), ("0191", "Bramble"), ("0192", "Thistle")), 1)
        ),
        "typed": HandsTyped(week=tuple(map(str, week)), days_off="2026-12-24 to 2026-12-27", helper_weekdays=(),
                            helper_days="2026-12-05"),
        "weekdays": tuple(Choice(value=day.lower(), words=day) for day in WEEKDAYS),
        "days": tuple(
            HandsDay(date=day.isoformat(), weekday=WEEKDAYS[day.weekday()], usual=week[day.weekday()],
                     changed="90" if day == start else "", off=day.isoformat() == "2026-12-10", today=day == start,
                     helper=day.isoformat() == "2026-12-05")
            for day in days
        ),
        "base_revs": {"0190": 1, "0191": 1, "0192": 2},
    }  # fmt: skip
    return HandsPage(**(given | changed))
