"""Trips and calls: what is asked or done there, and what the answer is worth before more money is spent."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from wreckwright.answers.part_lines import line_index
from wreckwright.answers.plan_types import ErrandLine
from wreckwright.answers.plan_words import counted, small
from wreckwright.answers.spread import mean_se
from wreckwright.answers.types import OptionName
from wreckwright.answers.verdict import CLEAR_OVER_SE
from wreckwright.answers.words import DOING_WORDS, in_ten, in_ten_futures, money
from wreckwright.futures.draw import Drawn
from wreckwright.futures.gates import GateNeed
from wreckwright.futures.ledger import parted_now, settle, sold_now
from wreckwright.futures.looks import TELEPHONE
from wreckwright.futures.needs import gate_id_of
from wreckwright.futures.scene import Futures
from wreckwright.futures.supplies import ORDERED_STATES
from wreckwright.record.known import Known, name_shown
from wreckwright.record.types import Errand, PartLine
from wreckwright.trade.types import Trade

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

AT_HAND = frozenset({"key_turns", "chip_read", "numbers_belong"})
"""Questions that whoever has the machine answers by looking, not by calling."""
PROPOSED_AT_MOST = 8
IN_TIME, LATE, NEVER = range(3)
LINE_ANSWERS = {LATE: "if it comes late", NEVER: "if it never comes"}
YES, NO = range(2)
GATE_ANSWERS = {YES: "after a yes", NO: "after a no"}
BINDS_FROM = 0.05
"""Share of futures from which on it is said that the end waits for something."""


@dataclass(frozen=True, kw_only=True)
class Knowing:
    """What it is worth to know an answer before anything more is spent."""

    worth_minor: int
    """Expected gain; 0 where every answer leaves the choice as it is."""
    now: OptionName
    """The best without knowing it."""
    changes: Mapping[int, OptionName]
    """Answer -> what is best after it, where that is not `now`."""
    chance: Mapping[int, float]
    """Answer -> its chance."""


def errands(
    futures: Futures, drawn: Drawn, trade: Trade, *, line_share: Sequence[float] = (),
    gate_share: Sequence[float] = (), open_keys: Collection[str] = (),
) -> tuple[ErrandLine, ...]:
    """Trips and calls of the record that are not done, by their date; then the calls that are worth making, dearest
    answer first.

    `line_share`, `gate_share`: per part line and per outside gate, share of the futures in which the end waits for it
    last (0..1; empty: not known). `open_keys`: keys of the work that is still to do.
    """
    desk = _Desk(futures, drawn, trade, line_share, gate_share)
    own = [_own(desk, errand, open_keys) for errand in drawn.known.machine.errands if not errand.done]
    own.sort(key=lambda line: (line.date or "9999", -line.worth_minor))
    spoken_gates = {line.gate for line in own if line.gate}
    spoken_parts = {line.part for line in own if line.part}
    proposed = [_gate_call(desk, need) for need in drawn.compiled.outside
                if need.id not in spoken_gates and desk.to_be_asked(need)]
    proposed += [_line_call(desk, line) for line in drawn.known.parts
                 if line.id not in spoken_parts and desk.in_arrears(line)]
    proposed.sort(key=lambda line: (-line.worth_minor, line.gate, line.part))
    return (*own, *proposed[:PROPOSED_AT_MOST])


def worth_of_knowing(worth: Mapping[OptionName, FloatArray], answer: IntArray) -> Knowing:
    """Expected gain of knowing `answer` ([F] whole numbers) before choosing among options with `worth` ([F] each, in
    minor units).

    The mean of the best choice after each answer, less the best choice without. What is best is found on one half of
    the futures and valued on the other, both ways, and what is left counts if it is clear of chance (more than 2
    standard errors): else every question would seem to be worth something.
    """
    names = tuple(worth)
    table = np.stack([worth[name] for name in names])
    now = int(table.mean(axis=1).argmax())
    even = np.arange(table.shape[1]) % 2 == 0
    gain = np.zeros(table.shape[1])
    for fitted, valued in ((even, ~even), (~even, even)):
        if not (fitted.any() and valued.any()):
            continue
        without = int(table[:, fitted].mean(axis=1).argmax())
        for one in np.unique(answer[valued]):
            seen, told = fitted & (answer == one), valued & (answer == one)
            best = int(table[:, seen].mean(axis=1).argmax()) if seen.any() else without
            gain[told] = table[best, told] - table[without, told]
    mean, se = mean_se(gain)
    answers = [int(one) for one in np.unique(answer)]
    best_after = {one: int(table[:, answer == one].mean(axis=1).argmax()) for one in answers}
    return Knowing(
        worth_minor=round(mean) if mean > CLEAR_OVER_SE * se else 0, now=names[now],
        changes={one: names[best] for one, best in best_after.items() if best != now},
        chance={one: float((answer == one).mean()) for one in answers},
    )


class _Desk:
    """What every line is read from, reckoned once."""

    def __init__(
        self, futures: Futures, drawn: Drawn, trade: Trade, line_share: Sequence[float], gate_share: Sequence[float]
    ) -> None:
        self.futures, self.drawn, self.trade = futures, drawn, trade
        self.known: Known = drawn.known
        self.line_share, self.gate_share = line_share, gate_share
        hour = futures.hour_value_minor
        self.worth: dict[OptionName, FloatArray] = {
            "carry_on": settle(futures).way.worth_minor(hour),
            "sell_as_it_stands": sold_now(futures).worth_minor(hour),
            "part_out": parted_now(futures).worth_minor(hour),
        }

    def gate_answer(self, gate_id: str) -> tuple[IntArray, float] | None:
        """([F] YES or NO, share of futures in which the end waits for it); None: it is answered already."""
        compiled, worlds = self.drawn.compiled, self.futures.worlds
        for index, need in enumerate(compiled.outside):
            if need.id == gate_id:
                share = self.gate_share[index] if index < len(self.gate_share) else 0.0
                return np.where(worlds.outside_ok[:, index], YES, NO), share
        for index, need in enumerate(compiled.bench):
            if need.id == gate_id:
                return np.where(worlds.gate_ok[:, index], YES, NO), 0.0
        return None

    def line_answer(self, line: PartLine) -> tuple[IntArray, float] | None:
        """([F] IN_TIME, LATE or NEVER, share of futures in which the end waits for it); None: nothing waits for it."""
        index = line_index(self.drawn, line)
        if index is None:
            return None
        lead = self.futures.worlds.lead_days[:, index, self.futures.policy.line_source[index]]
        comes = lead >= 0
        usual = float(np.median(lead[comes])) if comes.any() else 0.0
        answer = np.where(comes, np.where(lead > usual, LATE, IN_TIME), NEVER)
        return answer, self.line_share[index] if index < len(self.line_share) else 0.0

    def to_be_asked(self, need: GateNeed) -> bool:
        """Nobody has asked it for good, and it is asked by calling."""
        if need.answered_no or need.wait_days is not None:
            return False
        return not (self.known.bought and need.id in AT_HAND)

    def in_arrears(self, line: PartLine) -> bool:
        return line.state in ORDERED_STATES and bool(_late_words(self, line))


def _own(desk: _Desk, errand: Errand, open_keys: Collection[str]) -> ErrandLine:
    gate = gate_id_of(desk.known, errand.gate) if errand.gate else ""
    part = next((line for line in desk.known.parts if line.id == errand.part), None)
    wants = tuple(_want_words(desk, errand, want, open_keys) for want in errand.wants)
    question, worth, minor = "", "", 0
    if gate:
        need = next((one for one in (*desk.drawn.compiled.outside, *desk.drawn.compiled.bench) if one.id == gate), None)
        question = need.question if need is not None else ""
        worth, minor = _gate_worth(desk, gate)
    elif part is not None:
        question = _line_question(desk, part)
        worth, minor = _line_worth(desk, part)
    return ErrandLine(
        handle=errand.id, kind=errand.kind, words=errand.words, question=question, worth=worth, worth_minor=minor,
        wants=wants, date=errand.day.isoformat() if errand.day is not None else "", gate=gate, part=errand.part,
    )


def _want_words(desk: _Desk, errand: Errand, want: str, open_keys: Collection[str]) -> str:
    row = desk.trade.preconditions.get(want)
    if row is None:
        return want.replace("_", " ")
    if f"errand:{errand.id}:{want}" in open_keys:
        return f"{row.question} Not yet: {row.job} (some {counted(round(row.minutes), 'minute')})."
    bad = [bad.component for bad in desk.known.bad if bad.component in row.components]
    if bad:
        names = ", ".join(_component_name(desk, component) for component in bad)
        return f"{row.question} Not yet: first the {names}."
    return f"{row.question} Nothing is known that keeps it from that."


def _gate_call(desk: _Desk, need: GateNeed) -> ErrandLine:
    template = desk.trade.gates.get(need.id)
    check = desk.trade.checks.get(template.rough_check) if template is not None else None
    words = check.name if check is not None and TELEPHONE in check.tools else "Ask whoever answers it for good"
    worth, minor = _gate_worth(desk, need.id)
    return ErrandLine(
        handle="", kind="call", words=words, question=need.question, worth=worth, worth_minor=minor, gate=need.id
    )


def _gate_worth(desk: _Desk, gate_id: str) -> tuple[str, int]:
    found = desk.gate_answer(gate_id)
    if found is None:
        return "It is answered already.", 0
    answer, share = found
    knowing = worth_of_knowing(desk.worth, answer)
    return _worth_words(desk, knowing, share, GATE_ANSWERS), knowing.worth_minor


def _line_call(desk: _Desk, line: PartLine) -> ErrandLine:
    worth, minor = _line_worth(desk, line)
    whom, name = line.supplier or "whoever it was ordered from", small(_line_name(desk, line))
    return ErrandLine(
        handle="", kind="call", words=f"Call {whom} about the {name} ({_late_words(desk, line)})",
        question=_line_question(desk, line), worth=worth, worth_minor=minor, part=line.id,
    )


def _line_question(desk: _Desk, line: PartLine) -> str:
    name = small(_line_name(desk, line))
    if line.state in ORDERED_STATES:
        return f"On which day does the {name} leave? If none can be named: what comes back if it is called off?"
    return f"Is the {name} there, what does it cost with postage, and on which day does it leave?"


def _line_worth(desk: _Desk, line: PartLine) -> tuple[str, int]:
    found = desk.line_answer(line)
    if found is None:
        return "Nothing waits for it.", 0
    answer, share = found
    knowing = worth_of_knowing(desk.worth, answer)
    return _worth_words(desk, knowing, share, LINE_ANSWERS), knowing.worth_minor


def _worth_words(desk: _Desk, knowing: Knowing, share: float, answers: Mapping[int, str]) -> str:
    """What the answer changes."""
    binds = f"the end waits for it last in {in_ten_futures(share)}" if share >= BINDS_FROM else ""
    told = [(one, best) for one, best in knowing.changes.items() if one in answers]
    if knowing.worth_minor > 0 and told:
        one, best = max(told, key=lambda pair: knowing.chance[pair[0]])
        words = (
            f"Known before more is spent, it is worth {money(knowing.worth_minor, desk.futures.currency)}: "
            f"{answers[one]} ({in_ten(knowing.chance[one])}) {DOING_WORDS[best]} is best, "
            f"without knowing {DOING_WORDS[knowing.now]}"
        )
        return f"{words}; {binds}." if binds else f"{words}."
    words = f"Whatever the answer, {DOING_WORDS[knowing.now]} stays best"
    return f"{words}; but {binds}." if binds else f"{words}."


def _late_words(desk: _Desk, line: PartLine) -> str:
    """How late it is by the supplier's word or by what is usual; empty: it is not."""
    known = desk.known
    if line.promised_on is not None:
        days = (known.as_of - line.promised_on).days
        return f"promised for {line.promised_on.isoformat()}, {counted(days, 'day')} ago" if days > 0 else ""
    if line.ordered_on is None:
        return ""
    index = line_index(desk.drawn, line)
    lead_class = desk.drawn.compiled.lines[index].supplies[0].lead_class if index is not None else line.lead_class
    row = desk.trade.lead_classes.get(lead_class)
    waited = (known.as_of - line.ordered_on).days
    if row is None or waited <= row.p90_days:
        return ""
    return f"ordered {counted(waited, 'day')} ago, 9 in 10 come within {round(row.p90_days)}"


def _line_name(desk: _Desk, line: PartLine) -> str:
    component = desk.trade.components.get(line.component)
    return line.name or (name_shown(component, desk.known) if component is not None else line.id)


def _component_name(desk: _Desk, component: str) -> str:
    row = desk.trade.components.get(component)
    return small(name_shown(row, desk.known)) if row is not None else component
