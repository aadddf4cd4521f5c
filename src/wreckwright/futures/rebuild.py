"""The compiled rebuild: what the simulator plays. Frozen, plain tuples and arrays, no names looked up at run time.

`Rebuild` is the structure (the same in every future), `Worlds` the numbers that differ from future to future
(drawn once, the same for all policies), `Policy` (in `futures.policy`) the decisions, `Played` what came of it.
The exact rules of play are written down in docs/simulator.md; two programs obey them, the lock-step simulator
(`futures.simulate`) and the plain twin in the tests. What may stand in a `Rebuild` is checked
by `futures.rebuild_check`.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
import numpy.typing as npt

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int32]
LongArray = npt.NDArray[np.int64]

SlotKind = Literal["job", "look", "follow_up", "gate", "fallback"]

FINISHED, GATE_NO, NEVER_CAME, STOPPED_BY_RULE, OFF_CALENDAR = 0, 1, 2, 3, 4
"""`Played.status` codes. 0 finished; 1 a gate ended in no; 2 a part without which it cannot be finished never comes;
3 the policy's stop rule said stop; 4 not finished when the calendar ends (shown as "more than N years")."""

DISCOVERY, GATE_FAILED, GATE_PASSED = 0, 1, 2
"""Kinds of decision epoch; epoch index = 3 * stage + kind."""


@dataclass(frozen=True, kw_only=True)
class Exposes:
    """When the slot that holds this ends, it is seen whether component `component` is bad (entry of `Worlds.cries`)."""

    component: int
    sensitivity: float = 1.0
    false_alarm: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Slot:
    """One piece of work. Everything that could happen has its slot before the run; nothing is appended."""

    name: str
    kind: SlotKind
    stage: int = 0
    """Stage by default; `Policy.stage` decides for jobs, looks and follow-ups. For a gate: the stage it ends."""
    needed_by: int = 0
    """Last stage in which it may still be done before the gate that needs it; for things no gate needs, the last
    stage."""
    after: tuple[int, ...] = ()
    """Slots that must be done before, as far as they are active."""
    covers: tuple[int, ...] = ()
    """Covers that must be off while it is done (their own covers follow)."""
    lines: tuple[int, ...] = ()
    """Part lines that must have arrived."""
    exposes: tuple[Exposes, ...] = ()
    rough_gate: int = -1
    """A look only: the bench gate whose `no` it may foretell (`Worlds.foretells`)."""
    outside: tuple[int, ...] = ()
    """Outside gates (indices into `Rebuild.outside_gates`) that must have ended in yes before it."""
    cure_days: int = 0
    """Calendar days after the end of the slot before its successors and its gate may start."""
    essential: bool = True
    """If a line of it never comes: True, the project ends; False, it is left undone."""
    component: int = -1
    """follow_up only: the hidden component it puts right."""
    helper: bool = False
    """It takes two: it begins only on a day on which somebody helps (`Rebuild.helper_day`)."""
    part_of: int = -1
    """Jobs, looks and follow-ups only: the slot that holds the part lines of this work. If that one has been left
    undone when the turn comes to this, this is left undone too. -1: none."""
    mean_minutes: int = 0
    mean_minor: int = 0
    """What the policy expects it to take and cost, lines excluded (the policy has no sight of the draws)."""


@dataclass(frozen=True, kw_only=True)
class CoverNode:
    name: str
    under: tuple[int, ...] = ()
    """Covers that must be off before this one can come off."""
    off_at_start: bool = False
    helper: bool = False
    """Taking it off and putting it on take two, as `Slot.helper`."""


@dataclass(frozen=True, kw_only=True)
class BenchGate:
    """The test that ends stage `stage`. A stage that ends without a question has a gate slot of no minutes."""

    name: str
    stage: int
    slot: int
    covers_on: tuple[int, ...] = ()
    """Covers that must be on for the test (what lies beneath them follows). Ignored for the last stage: all must be
    on."""
    fallbacks: tuple[int, ...] = ()
    """Fallback slots in the order in which they are tried."""


@dataclass(frozen=True, kw_only=True)
class OutsideGate:
    """A question answered away from the bench, on some day, with a chain of ways round that need no hands."""

    name: str
    n_fallbacks: int = 0


@dataclass(frozen=True, kw_only=True)
class Source:
    """Where a line can come from."""

    name: str
    cancel_days: int
    refund_permille: int = 1000
    """Share of the price that comes back if the order is called off before it has come."""
    resale_permille: int = 500
    """Share of what was paid that an unfitted part fetches."""
    mean_minor: int = 0
    """What the policy expects to pay."""


@dataclass(frozen=True, kw_only=True)
class Line:
    name: str
    slot: int
    sources: tuple[Source, ...]
    already_ordered: bool = False
    """Ordered before the day for which the answers hold: it counts as ordered on day 0, whatever the policy says."""
    sunk_minor: int = 0
    """Paid before that day (only its resale value still counts)."""


@dataclass(frozen=True, kw_only=True)
class Rebuild:
    slots: tuple[Slot, ...]
    covers: tuple[CoverNode, ...]
    bench_gates: tuple[BenchGate, ...]
    """One per stage, in order; the last one passed means finished."""
    outside_gates: tuple[OutsideGate, ...]
    lines: tuple[Line, ...]
    components: tuple[str, ...]
    """Keys of the hidden components that have a follow-up slot (indices of `Slot.component`, `Exposes.component`)."""
    cumulative_minutes: LongArray
    """[days + 1] planned minutes before the start of each calendar day; [0] == 0; days counted from the as-of date."""
    big_find_minor: int
    """A discovery whose expected cost exceeds this is a decision epoch."""
    as_it_stands_minor: tuple[int, ...]
    """What the policy expects from selling as it stands, by number of bench gates passed (length stages + 1)."""
    part_out_minor: int
    """What the policy expects from parting out, net of selling costs."""
    part_out_minutes: int = 0
    helper_day: BoolArray | None = None
    """[days] on which days somebody helps; None: somebody always does, nothing waits for it."""

    @property
    def n_stages(self) -> int:
        return len(self.bench_gates)


@dataclass(frozen=True, kw_only=True)
class Worlds:
    """F futures. J slots, C covers, L lines, A sources per line (padded), E expose entries in slot order, G bench
    gates, B fallback slots in the order of `Rebuild.slots`, O outside gates, R most fallbacks of an outside gate."""

    minutes: IntArray
    """[F, J + 2 C] own working minutes of each slot, then of taking each cover off, then of putting each cover on."""
    attendance_permille: IntArray
    """[F] share of the planned minutes that is really worked, 1..1000."""
    cries: BoolArray
    """[F, E] the slot that exposes says "bad" (truly, or as a false alarm)."""
    foretells: BoolArray
    """[F, J] a rough look foretells the no of its gate (False where `rough_gate` < 0)."""
    gate_ok: BoolArray
    """[F, G] the bench gate's question is yes at first."""
    fallback_ok: BoolArray
    """[F, B]"""
    fallback_days: IntArray
    """[F, B] wait from the no until the fallback's slot can start."""
    fallback_minor: LongArray
    """[F, B] paid when the fallback is begun."""
    outside_days: IntArray
    """[F, O] day on which the answer comes; -1 never."""
    outside_ok: BoolArray
    """[F, O]"""
    outside_fallback_ok: BoolArray
    """[F, O, R]"""
    outside_fallback_days: IntArray
    """[F, O, R] days from the no before."""
    outside_fallback_minor: LongArray
    """[F, O, R]"""
    lead_days: IntArray
    """[F, L, A] days from order to arrival; -1 never."""
    wrong: BoolArray
    """[F, L, A] what arrives is wrong and is ordered once more."""
    second_lead_days: IntArray
    """[F, L, A]; -1 never."""
    wrong_minor: LongArray
    """[F, L, A] what sending back and ordering again costs."""
    price_minor: LongArray
    """[F, L, A]"""
    slot_minor: LongArray
    """[F, J] consumables and outside work, paid when the slot ends."""

    @property
    def n(self) -> int:
        return int(self.minutes.shape[0])


@dataclass(frozen=True, kw_only=True)
class Trail:
    """When what happened, so that it can be asked why a future ended when it did. K waits, clocks as in `Played`."""

    wait_future: IntArray
    """[K] ascending."""
    wait_clock: LongArray
    """[K] end of the wait; ascending within a future."""
    wait_minutes: LongArray
    """[K] how long it was."""
    wait_column: IntArray
    """[K] where it was booked in `Played.waited_minutes`."""
    called_clock: LongArray
    """[F, H] when the follow-up of each component was called; -1: never."""
    begun_clock: LongArray
    """[F, B] when each way round was begun; -1: never."""


@dataclass(frozen=True, kw_only=True)
class Played:
    """What came of F futures under one policy. Day -1 and clock -1 mean: did not happen."""

    status: npt.NDArray[np.int8]
    """[F] FINISHED, GATE_NO, NEVER_CAME, STOPPED_BY_RULE or OFF_CALENDAR."""
    reason: IntArray
    """[F] GATE_NO: bench gate index, or n_stages + outside gate index; NEVER_CAME: line; STOPPED_BY_RULE: epoch; else
    -1."""
    clock: LongArray
    """[F] own working minutes from the as-of date to the end, waiting evenings included."""
    day: IntArray
    """[F] calendar day of the end (days from the as-of date)."""
    hands_on_minutes: LongArray
    """[F]"""
    out_minor: LongArray
    """[F] all money out: lines, fallbacks, slot costs, up to the end."""
    resale_minor: LongArray
    """[F] resale of ordered, unfitted lines if stopped; 0 where finished."""
    gate_day: IntArray
    """[F, S] day on which each stage's gate was passed."""
    fell_back: BoolArray
    """[F, S] a fallback of that gate was begun."""
    order_day: IntArray
    """[F, L]"""
    left_undone: BoolArray
    """[F, J] passed over because a line of it never comes."""
    done: BoolArray
    """[F, J] at the end."""
    known_bad: BoolArray
    """[F, H] by component."""
    waited_minutes: LongArray
    """[F, J + 2 C + O] evenings' minutes lost waiting, booked on the slot whose release ended the wait, or on an
    outside gate."""
    epoch_reached: BoolArray
    """[F, 3 S]"""
    epoch_day: IntArray
    """[F, 3 S]"""
    epoch_out_minor: LongArray
    """[F, 3 S] money out so far."""
    epoch_resale_minor: LongArray
    """[F, 3 S] resale of ordered, unfitted lines at that moment."""
    epoch_minutes: LongArray
    """[F, 3 S] hands-on minutes so far."""
    epoch_features: npt.NDArray[np.float64]
    """[F, 3 S, 7] see docs/simulator.md, section Stop."""
    last_wait: IntArray = field(default_factory=lambda: np.zeros(0, np.int32))
    """[F] where (a column of `waited_minutes`) the last wait was booked; -1: nothing was waited for."""
    end_clock: LongArray | None = None
    """[F, J + 2 C] clock at which each slot and each movement of a cover last ended; -1: never. Only where it was asked
    for (`simulate(..., ends=True)`)."""
    trail: Trail | None = None
    """Only where it was asked for, together with `end_clock`."""
    extra: dict[str, npt.NDArray[np.generic]] = field(default_factory=dict)
