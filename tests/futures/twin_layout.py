"""What the plain twin knows before it plays: openings and closings of covers, order of rank, who follows whom.

Shares no code with `wreckwright.futures.simulate`; see `twin`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from wreckwright.futures.policy import Policy
from wreckwright.futures.rebuild import Rebuild

FINISHED, GATE_NO, NEVER_CAME, STOPPED_BY_RULE, OFF_CALENDAR = range(5)
DISCOVERY, GATE_FAILED, GATE_PASSED = range(3)
NOW, NEVER, ON_DISCOVERY = -1, -2, -3
INACTIVE, ACTIVE, DONE = "inactive", "active", "done"


class FutureEnds(Exception):
    """Raised where the page says "the future ends"; nothing further of that moment happens."""


@dataclass
class StopMoment:
    clock: float
    day: int
    status: int
    reason: int


@dataclass
class Bought:
    """What ordering a line brings, in days from the order day."""

    paid_minor: int
    arrival: int | None
    """None: it never comes."""
    known: int | None = None
    """Only if it never comes: when that is known."""


@dataclass
class OutsideAnswer:
    yes_day: int | None = None
    last_no_day: int = 0
    begun: list[tuple[int, int]] = field(default_factory=list)
    """(day, paid) of each fallback begun."""


@dataclass
class Visit:
    day: int
    out_minor: int
    resale_minor: int
    minutes: int
    features: tuple[float, ...]


class Layout:
    """What follows from rebuild and policy alone, the same in every future."""

    def __init__(self, rebuild: Rebuild, policy: Policy) -> None:
        self.rebuild, self.policy = rebuild, policy
        self.n_slots, self.n_covers = len(rebuild.slots), len(rebuild.covers)
        self.last_stage = len(rebuild.bench_gates) - 1
        self.opening = [self.lines_upward(slot.covers) for slot in rebuild.slots]
        self.closing = [self.closing_of(k) for k in range(self.last_stage + 1)]
        self.gate_stage = {gate.slot: k for k, gate in enumerate(rebuild.bench_gates)}
        self.fallback_gate = {j: k for k, gate in enumerate(rebuild.bench_gates) for j in gate.fallbacks}
        fallback_slots = [j for j, slot in enumerate(rebuild.slots) if slot.kind == "fallback"]
        self.fallback_column = {j: b for b, j in enumerate(fallback_slots)}
        self.follow_up = {slot.component: j for j, slot in enumerate(rebuild.slots) if slot.kind == "follow_up"}
        self.first_cry: list[int] = []
        entries = 0
        for slot in rebuild.slots:
            self.first_cry.append(entries)
            entries += len(slot.exposes)
        self.trigger = [self.trigger_of(line) for line in range(len(rebuild.lines))]
        self.by_rank = sorted(range(self.n_slots + 2 * self.n_covers), key=lambda i: policy.rank[i])

    def lines_upward(self, covers: Iterable[int]) -> frozenset[int]:
        """The covers themselves and everything under which they lie."""
        found: set[int] = set()
        to_see = list(covers)
        while to_see:
            x = to_see.pop()
            if x not in found:
                found.add(x)
                to_see.extend(self.rebuild.covers[x].under)
        return frozenset(found)

    def closing_of(self, k: int) -> frozenset[int]:
        """The covers that must be on for gate `k`."""
        if k == self.last_stage:
            return frozenset(range(self.n_covers))
        must = set(self.rebuild.bench_gates[k].covers_on)
        return frozenset(x for x in range(self.n_covers) if self.lines_upward([x]) & must)

    def trigger_of(self, line: int) -> int:
        """The policy's, but the lines of an unused look are not ordered at all."""
        slot = self.rebuild.lines[line].slot
        unused = self.rebuild.slots[slot].kind == "look" and not self.policy.looks[slot]
        return NEVER if unused else self.policy.line_trigger[line]

    def is_stage_work(self, j: int, stage: int) -> bool:
        """A job of the stage, or a look of the stage that the policy uses."""
        kind = self.rebuild.slots[j].kind
        mine = kind == "job" or (kind == "look" and self.policy.looks[j])
        return mine and self.policy.stage[j] == stage
