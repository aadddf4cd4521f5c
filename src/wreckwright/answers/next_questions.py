"""The quickest way to a first answer of each question that can sink the project, and what to see to before looking."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from wreckwright.answers.types import NextStep
from wreckwright.answers.words import in_ten
from wreckwright.futures.gates import GateNeed
from wreckwright.futures.looks import GATE_CHECKS, TELEPHONE
from wreckwright.futures.worth import LAST_GATE
from wreckwright.record.known import Known
from wreckwright.trade.graph import opening_order
from wreckwright.trade.types import Check, Trade

POWER_RISKS = frozenset({"water_flood", "fire_electrical"})
"""Causes after which power and cranking do harm before somebody has looked."""
POWER_RISK_OVER = 0.1
"""Chance of such a cause from which on the machine is treated so; as `blocked_over` in the checks (judgement)."""
TOLD_OF_POWER_RISK = frozenset({"water", "fire"})
POWER_CAUTION = "flood_electric"
"""Caution of the trade data for such a machine; what it applies to is not offered before looking."""
FIRST_START = "first_start"
"""Check of the trade data that says what must have been looked at before an engine is started."""


@dataclass(frozen=True, kw_only=True)
class Case:
    """One machine, as the search for its next step reads it."""

    known: Known
    trade: Trade
    damage: Mapping[str, float]
    """Component -> chance that it is bad."""
    cause_chance: Mapping[str, float]
    bench: tuple[GateNeed, ...]
    outside: tuple[GateNeed, ...]

    @property
    def power_risk(self) -> bool:
        """It may have been under water or burnt: look before any power, and before anything turns."""
        told = bool(TOLD_OF_POWER_RISK.intersection(self.known.told))
        return told or any(self.cause_chance.get(cause, 0.0) > POWER_RISK_OVER for cause in POWER_RISKS)

    @property
    def bad(self) -> frozenset[str]:
        return frozenset(one.component for one in self.known.bad)

    def looked_at(self, component: str) -> bool:
        """It was looked at by itself or with others and something was said of it."""
        known = self.known
        return component in known.fine or component in self.bad or component in known.put_right

    def done(self, check: Check) -> bool:
        """The check was made: a finding names it, or all that it looks at has been spoken of."""
        if any(finding.check == check.id for finding in self.known.machine.findings):
            return True
        seen = [one.component for one in check.detects if one.component not in self.known.absent]
        return bool(seen) and all(map(self.looked_at, seen))

    def chance_of_no(self, need: GateNeed) -> float:
        yes = need.chance_yes
        for component in need.fails_with:
            yes *= 1.0 - self.damage.get(component, 0.0)
        return 1.0 - yes

    def cover_minutes(self, covers: tuple[str, ...]) -> float:
        """Minutes to take off and put back what is in the way and not off already."""
        off = frozenset(self.known.machine.covers_off)
        rows = (self.trade.covers[name] for name in opening_order(self.trade.covers, covers) if name not in off)
        return sum(row.minutes_off + row.minutes_on for row in rows)

    def cautions(self, *first: str, about: tuple[str, ...] = ()) -> tuple[str, ...]:
        """What to see to before: of a machine that may be wet or burnt that first, then `first`, then what the trade
        data say of these checks, covers and components, the weightiest first; each once."""
        rows = self.trade.cautions
        power = [rows[POWER_CAUTION].text] if self.power_risk and POWER_CAUTION in rows else []
        heavy = sorted(rows.values(), key=lambda row: -row.weight)
        rest = [row.text for row in heavy
                if row.id != POWER_CAUTION and frozenset(row.applies_to).intersection(about)]
        return tuple(dict.fromkeys(text for text in (*power, *first, *rest) if text))

    def does_harm(self, check: Check) -> bool:
        """It turns the engine or puts power on a machine that may be wet or burnt, before anybody has looked."""
        row = self.trade.cautions.get(POWER_CAUTION)
        listed = row is not None and check.id in row.applies_to
        return self.power_risk and (listed or self.blocked(check))

    def blocked(self, check: Check) -> bool:
        """What may have happened forbids it (`Check.blocked_over`), and what would allow it again was not all done."""
        over = any(self.cause_chance.get(cause, 0.0) > limit for cause, limit in check.blocked_over.items())
        return over and not all(self.done(self.trade.checks[name]) for name in check.unblocked_by)

    def quickest_harmless(self, components: Collection[str]) -> tuple[Check, float] | None:
        """The quickest check that tells something of one of these and does no harm; its minutes with the covers."""
        fit = [
            (check.minutes + self.cover_minutes(check.covers), check.id) for check in self.trade.checks.values()
            if check.id not in GATE_CHECKS and not self.does_harm(check) and not check.only_after
            and any(one.component in components for one in check.detects)
        ]
        minutes, name = min(fit, default=(0.0, ""))
        return (self.trade.checks[name], minutes) if name else None


def ask_or_look(case: Case) -> NextStep | None:
    """The quickest first answer to a sinking question that nobody has asked; None: all have been asked.

    Cheapest in minutes first, of equals the one whose no is likelier. A lot that is not bought is asked after by
    telephone before anybody goes there, and nothing is taken off it.
    """
    found: list[tuple[tuple[bool, float, float, float, str], GateNeed, Check]] = []
    for need in (*case.outside, *case.bench):
        look = _quick_look(case, need)
        if look is not None:
            check, minutes = look
            trip = not case.known.bought and TELEPHONE not in check.tools
            found.append(((trip, minutes, -case.chance_of_no(need), need.order, need.id), need, check))
    if not found:
        return None
    (_, minutes, *_), need, check = min(found, key=lambda one: one[0])
    by_telephone = TELEPHONE in check.tools
    return NextStep(
        kind="ask" if by_telephone else "look",
        # Whoever has the machine need not ask its seller.
        words=f"Find out: {need.question}" if by_telephone and case.known.bought else check.name,
        minutes=minutes, gate=need.id, check=check.id,
        why=(
            f"The quickest way to a first answer: '{need.question}' must end in yes "
            f"(a no: {in_ten(case.chance_of_no(need))}, trade judgement)."
        ),
        # The guards of a test are for whoever puts hands on it.
        cautions=case.cautions(
            check.caution, *(() if by_telephone else case.trade.gates[need.id].guards), about=(check.id, *check.covers)
        ),
    )


def _quick_look(case: Case, need: GateNeed) -> tuple[Check, float] | None:
    """The rough check of a question that is still to be asked, or what does no harm instead; with its minutes."""
    template = case.trade.gates.get(need.id)
    asked = need.answered_no or need.wait_days is not None
    if template is None or asked or need.id == LAST_GATE or not template.rough_check:
        return None
    behind = [component for component in template.fails_with if component not in case.known.absent]
    # Found bad: a rough look would tell nothing new. All fine: it has been looked at.
    if case.bad.intersection(behind) or (behind and case.known.fine.issuperset(behind)):
        return None
    check = case.trade.checks[template.rough_check]
    look: tuple[Check, float] | None = check, check.minutes + case.cover_minutes(check.covers)
    if case.does_harm(check):
        look = case.quickest_harmless(template.fails_with)
    if look is None or case.done(look[0]):
        return None
    check = look[0]
    if TELEPHONE in check.tools and case.known.bought and need.kind == "bench":
        # It stands in front of its owner: the bench will tell.
        return None
    return None if check.covers and not case.known.bought else look


def about_gate(case: Case, need: GateNeed) -> tuple[str, ...]:
    """Guards of a question's template, then its cautions and what the law is asked about."""
    template = case.trade.gates.get(need.id)
    if template is None:
        return ()
    texts = {name: row.text for name, row in case.trade.cautions.items()}
    texts |= {name: f"{row.text} (ask: {row.defer_to})" for name, row in case.trade.legal.items()}
    # The caution for wet and burnt machines is given where there is reason to think so.
    named = (texts[name] for name in template.cautions if name in texts and name != POWER_CAUTION)
    return (*template.guards, *named)


def look_before_start(case: Case) -> Check | None:
    """What must be looked at before the engine is started, on a machine that may have been wet, burnt or long stored;
    None: nothing is left of it."""
    start = case.trade.checks.get(FIRST_START)
    if start is None or not case.blocked(start):
        return None
    wanted = (case.trade.checks[name] for name in start.unblocked_by)
    return next((check for check in wanted if not case.done(check)), None)
