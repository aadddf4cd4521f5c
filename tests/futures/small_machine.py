"""Small rebuilds written down by name, for tests whose outcome is worked out by hand.

A `Small` is filled with covers, parts and work in any readable order; `play` turns names into numbers, makes calm
worlds (everything takes and costs what is written down, everything goes well) and changes what the test says.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from wreckwright.futures.policy import NOW, Policy
from wreckwright.futures.rebuild import (
    BenchGate,
    CoverNode,
    Exposes,
    Line,
    OutsideGate,
    Played,
    Rebuild,
    Slot,
    Source,
    Worlds,
)
from wreckwright.futures.simulate import simulate
from wreckwright.futures.worlds import calm_worlds

NEAR = Source(name="near", cancel_days=4, refund_permille=800, resale_permille=500, mean_minor=1000)
FAR = Source(name="far", cancel_days=6, refund_permille=500, resale_permille=500, mean_minor=1500)


@dataclass
class Small:
    evenings: Sequence[int] = (60,) * 10
    big_find_minor: int = 10**9
    slots: dict[str, dict[str, Any]] = field(default_factory=dict)
    covers: dict[str, dict[str, Any]] = field(default_factory=dict)
    gates: list[dict[str, Any]] = field(default_factory=list)
    outside: dict[str, int] = field(default_factory=dict)
    lines: dict[str, dict[str, Any]] = field(default_factory=dict)
    components: list[str] = field(default_factory=list)
    helped: Sequence[int] | None = None
    """Days on which somebody helps; None: nobody waits for it."""

    def cover(
        self,
        name: str,
        *,
        off: int = 0,
        on: int = 0,
        under: Sequence[str] = (),
        at_start: bool = False,
        helper: bool = False,
    ) -> None:
        self.covers[name] = {"off": off, "on": on, "under": under, "at_start": at_start, "helper": helper}

    def part(
        self,
        name: str,
        *,
        lead: Sequence[int] = (0,),
        trigger: int = NOW,
        plan_b: int = -1,
        after: int = -1,
        sources: Sequence[Source] = (NEAR, FAR),
        **line: Any,
    ) -> None:
        line["sources"] = tuple(sources)
        self.lines[name] = {"lead": lead, "trigger": trigger, "plan_b": plan_b, "after": after, "line": line}

    def job(self, name: str, minutes: int, *, minor: int = 0, kind: str = "job", **rest: Any) -> None:
        if "component" in rest:
            self.components.append(rest["component"])
        self.slots[name] = {"minutes": minutes, "minor": minor, "kind": kind, **rest}

    def gate(
        self, name: str, minutes: int, *, ways: Sequence[str] = (), covers_on: Sequence[str] = (), **rest: Any
    ) -> None:
        """The test that ends the stage being written; `ways` are jobs written with kind "fallback"."""
        self.job(name, minutes, kind="gate", stage=len(self.gates), **rest)
        self.gates.append({"name": name, "ways": ways, "covers_on": covers_on})

    def slot(self, name: str) -> int:
        return list(self.slots).index(name)

    def work(self, name: str) -> int:
        """Place in `Policy.rank`, `Worlds.minutes`: of a slot, or of "NAME off", "NAME on"."""
        if name in self.slots:
            return self.slot(name)
        cover, _, way = name.rpartition(" ")
        return len(self.slots) + list(self.covers).index(cover) + (len(self.covers) if way == "on" else 0)

    def rebuild(self) -> Rebuild:
        covers, lines, last = list(self.covers), list(self.lines), len(self.gates) - 1
        slots = []
        for name, s in self.slots.items():
            parts = s.get("parts", ())
            slots.append(
                Slot(
                    name=name,
                    kind=s["kind"],
                    stage=s.get("stage", 0),
                    needed_by=s.get("needed_by", last),
                    after=tuple(self.slot(n) for n in s.get("after", ())),
                    covers=tuple(covers.index(n) for n in s.get("covers", ())),
                    lines=tuple(lines.index(n) for n in parts),
                    exposes=tuple(Exposes(component=self.components.index(n)) for n in s.get("exposes", ())),
                    rough_gate=s.get("rough_gate", -1),
                    outside=tuple(list(self.outside).index(n) for n in s.get("outside", ())),
                    cure_days=s.get("cure_days", 0),
                    essential=s.get("essential", True),
                    component=self.components.index(s["component"]) if "component" in s else -1,
                    helper=s.get("helper", False),
                    part_of=self.slot(s["part_of"]) if "part_of" in s else -1,
                    mean_minutes=s["minutes"],
                    mean_minor=s["minor"],
                )
            )
        owner = {part: self.slot(name) for name, s in self.slots.items() for part in s.get("parts", ())}
        return Rebuild(
            slots=tuple(slots),
            covers=tuple(
                CoverNode(
                    name=n,
                    under=tuple(covers.index(u) for u in c["under"]),
                    off_at_start=c["at_start"],
                    helper=c["helper"],
                )
                for n, c in self.covers.items()
            ),
            bench_gates=tuple(
                BenchGate(
                    name=g["name"],
                    stage=k,
                    slot=self.slot(g["name"]),
                    covers_on=tuple(covers.index(n) for n in g["covers_on"]),
                    fallbacks=tuple(self.slot(n) for n in g["ways"]),
                )
                for k, g in enumerate(self.gates)
            ),
            outside_gates=tuple(OutsideGate(name=n, n_fallbacks=ways) for n, ways in self.outside.items()),
            lines=tuple(Line(name=n, slot=owner[n], **part["line"]) for n, part in self.lines.items()),
            components=tuple(self.components),
            cumulative_minutes=np.cumsum([0, *self.evenings]),
            big_find_minor=self.big_find_minor,
            as_it_stands_minor=(0,) * (len(self.gates) + 1),
            part_out_minor=0,
            helper_day=None if self.helped is None else np.isin(np.arange(len(self.evenings)), self.helped),
        )

    def policy(self, rank: Sequence[str] = (), **changes: Any) -> Policy:
        """Work in the order written (covers last) unless `rank` names what comes first."""
        everything = [*self.slots, *(f"{n} off" for n in self.covers), *(f"{n} on" for n in self.covers)]
        order = [*rank, *(n for n in everything if n not in rank)]
        places = [0] * len(everything)
        for place, name in enumerate(order):
            places[self.work(name)] = place
        lines = self.lines.values()
        policy = Policy(
            line_source=(0,) * len(lines),
            line_trigger=tuple(part["trigger"] for part in lines),
            plan_b_source=tuple(part["plan_b"] for part in lines),
            plan_b_after_days=tuple(part["after"] for part in lines),
            stage=tuple(s.get("stage", 0) for s in self.slots.values()),
            rank=tuple(places),
            looks=(True,) * len(self.slots),
        )
        return replace(policy, **changes)

    def worlds(self, n: int = 1) -> Worlds:
        rebuild = self.rebuild()
        worlds = calm_worlds(rebuild, n)
        for x, cover in enumerate(self.covers.values()):
            worlds.minutes[:, len(self.slots) + x] = cover["off"]
            worlds.minutes[:, len(self.slots) + len(self.covers) + x] = cover["on"]
        for index, part in enumerate(self.lines.values()):
            worlds.lead_days[:, index, : len(part["lead"])] = part["lead"]
        return worlds

    def play(
        self,
        *,
        n: int = 1,
        rank: Sequence[str] = (),
        change: Callable[[Worlds], None] = lambda worlds: None,
        policy: Mapping[str, Any] | None = None,
        ends: bool = False,
    ) -> Played:
        worlds = self.worlds(n)
        change(worlds)
        return simulate(self.rebuild(), worlds, self.policy(rank, **(policy or {})), ends=ends)
