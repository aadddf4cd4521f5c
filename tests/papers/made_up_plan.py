"""A running order, an evening and a job card made up by hand, for tests of how they are shown."""

from __future__ import annotations

from wreckwright.answers.plan_types import (
    AfterLine,
    BatchLine,
    ErrandLine,
    LongWait,
    OrderEntry,
    Parcel,
    RunningOrder,
    Stretch,
)
from wreckwright.answers.types import DayQuantile

AS_OF = "2026-11-20"


def quantile(date: str, days: int) -> DayQuantile:
    return DayQuantile(days=days, date=date, days_se=1.0, words=date)


def entry(key: str, name: str, minutes: float, from_date: str, to_date: str, **more: object) -> OrderEntry:
    said = {"kind": "job", "by_p80": "", "waits_for": ""} | more
    return OrderEntry(
        key=key, name=name, minutes=minutes, from_date=from_date, to_date=to_date, **said  # type: ignore[arg-type]
    )


def parcel(name: str, p20: str, p50: str, p80: str, share: float, **more: object) -> Parcel:
    said = {
        "kind": "part",
        "state": "ordered on 2026-11-02",
        "never_chance": 0.02,
        "day_worth_minor": round(share * 1_500),
    } | more
    return Parcel(name=name, p20=p20, p50=p50, p80=p80, share=share, **said)  # type: ignore[arg-type]


PARCELS = (
    parcel("Left fork leg", "2026-12-04", "2026-12-15", "2027-01-20", 0.41, reaches=("fork_legs", "fork_legs:test")),
    parcel("Radiator", "2027-01-10", "2027-01-24", "2027-03-02", 0.22, state="held back until it runs",
           from_date="2026-12-28", reaches=("radiator",)),
    parcel("Papers from the office of registrations", "2027-01-05", "2027-02-01", "2027-04-11", 0.12, kind="answer",
           state="asked", reaches=("gate:papers",)),
    parcel("Ignition key, coded", "2026-11-27", "2026-12-01", "2026-12-09", 0.03, reaches=("look:pairing",)),
    parcel("Front rim, straight and with bearings", "2026-12-09", "2026-12-15", "", 0.08, never_chance=0.24,
           reaches=("front_wheel",)),
    parcel("Left mirror", "2026-11-25", "2026-11-25", "2026-11-27", 0.0, reaches=("mirror_left",)),
    parcel("Brake hose", "2026-11-01", "2026-11-18", "2026-11-18", 0.0, state="here"),
)  # fmt: skip

STRETCHES = (
    Stretch(
        gate="gate:first_start",
        question="Does the engine start and hold its oil pressure?",
        usual_date="2026-12-28",
        when=quantile("2027-01-03", 44),
        when_p80=quantile("2027-02-09", 81),
        entries=(
            entry("off:tank", "Fuel tank off", 20, "2026-11-20", "2026-11-20", kind="off"),
            entry("look:coolant", "Look into the coolant", 15, "2026-11-20", "2026-11-20", kind="look"),
            entry("mirror_left", "Fit the left mirror", 25, "2026-11-25", "2026-11-25", waits_for="Left mirror"),
            entry("look:pairing", "Pair the new key", 45, "2026-12-01", "2026-12-01", kind="look",
                  waits_for="Ignition key, coded"),
            entry("fork_legs", "Fit the fork legs", 190, "2026-12-15", "2026-12-18", waits_for="Left fork leg",
                  covers=("Front wheel", "Front mudguard"), by_p80="2027-01-28"),
            entry("fork_legs:test", "Test the fork legs", 30, "2026-12-18", "2026-12-18", waits_for="Left fork leg"),
            entry("front_wheel", "Fit the front wheel", 60, "2026-12-18", "2026-12-19",
                  waits_for="Front rim, straight and with bearings"),
            entry("gate:first_start", "Does the engine start and hold its oil pressure?", 40, "2026-12-28",
                  "2026-12-28", kind="gate"),
        ),
    ),
    Stretch(
        gate="gate:papers",
        question="Are the papers right?",
        usual_date="2027-02-01",
        when=quantile("2027-02-03", 75),
        when_p80=quantile("2027-04-13", 144),
        entries=(
            entry("radiator", "Fit the radiator", 110, "2027-01-24", "2027-01-26", waits_for="Radiator"),
            entry("gate:papers", "Are the papers right?", 0, "2027-02-01", "2027-02-01", kind="gate"),
        ),
    ),
    Stretch(
        gate="gate:fit_to_ride",
        question="Is everything proved by hand?",
        usual_date="2027-02-20",
        when=quantile("2027-03-01", 101),
        when_p80=quantile("2027-05-13", 174),
        entries=(entry("chain", "Set the chain", 40, "2027-02-06", "2027-02-06"),
                 entry("gate:fit_to_ride", "Is everything proved by hand?", 90, "2027-02-20", "2027-02-20",
                       kind="gate")),
    ),
)  # fmt: skip

AFTER = (
    AfterLine(key="heads", words="Tighten the head again, cold", due="after the first heat cycle", is_due=True,
              cautions=("Only when it has been cold overnight",)),
    AfterLine(key="spokes", words="Go over the spokes", due="after 100 km", is_due=False),
)  # fmt: skip


def running_order(nickname: str = "Sorrel", **changed: object) -> RunningOrder:
    given = {
        "stretches": STRETCHES,
        "parcels": PARCELS,
        "finish": quantile("2027-03-01", 101),
        "finish_p80": quantile("2027-05-13", 174),
        "first_gate": quantile("2027-01-03", 44),
        "cover_hours": 6.5,
        "cover_hours_one_by_one": 19.0,
        "broken": (),
        "long_wait": LongWait(
            days=23,
            until="2026-12-15",
            words=("Fuel tank full, tap shut", "Battery off, in the house", "Fork legs: front on a stand"),
        ),
        "batches": (
            BatchLine(
                handle="b1",
                name="Paint: tank and tail",
                parts=("Fuel tank", "Tail fairing"),
                state="gathering",
                words="One trip instead of two saves about 1 h 30 min; the tail fairing is missing",
            ),
        ),
        "errands": (
            ErrandLine(
                handle="",
                kind="call",
                words="Ring the office of registrations",
                question="Is the frame number free of a loan?",
                worth="A no would save about EUR 400 of parts that are ordered until then",
                worth_minor=40_000,
                gate="papers",
            ),
            ErrandLine(
                handle="e1",
                kind="trip",
                words="To the alignment bench",
                question="Have the frame measured",
                worth="It is asked before the fork goes in",
                worth_minor=0,
                wants=("It rolls: yes", "It steers: not yet"),
                date="2026-12-03",
            ),
        ),
        "after_ride": AFTER,
        "order": (),
        "stages": {},
        "booked": (),
        "notes": (),
    }
    return RunningOrder(
        nickname=nickname,
        as_of=AS_OF,
        why="The end waits for the left fork leg in 41 of 100 futures",
        rests_on=(),
        **(given | changed),  # type: ignore[arg-type]
    )
