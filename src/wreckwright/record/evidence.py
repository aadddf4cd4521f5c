"""What was seen, as evidence: for each component the likelihood of all that is written of it, if sound and if bad.

A likelihood pair carries no opinion of how common the damage is; that is the business of the damage network, and would
count twice here. Silence is no evidence: a component that nobody wrote of is in none of these results.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from wreckwright.record.against_trade import finding_zone, hit_side, read_finding_row
from wreckwright.record.known import KnownBad, RecordGuess
from wreckwright.record.money import percent
from wreckwright.record.pace import CLOSED_STATES, MENDING_KINDS
from wreckwright.record.part_lines import superseded
from wreckwright.record.types import Finding, Job, Machine, Reading
from wreckwright.record.words import Match, Unclear, Words
from wreckwright.trade.types import Detects, Trade

__all__ = [
    "CLOSED_STATES", "KNOWN_BAD_FROM", "MENDING_KINDS", "QUESTIONS", "Evidence", "chance_inside", "gather", "mix",
]

Pair = tuple[float, float]
"""(likelihood if the component was sound, if it was bad)."""

# All judgement, on the side of believing less.
KNOWN_BAD_FROM = 0.75
"""A finding this sure puts the component on the list of work; below it, it is a suspicion and only evidence."""
SUREST = 0.999
LEAST_PAIR = 1e-9
DEFAULT_LOOK: Pair = (0.95, 0.3)
"""Looked at and fine, where no check of the trade data tells how much a walk-round shows."""
NAMED_LOOK_IF_BAD = 0.1
"""The same for a part that shows on a walk-round and was looked at by name, not as part of a whole side."""
HIDDEN_LOOK_IF_BAD = 0.4
MERE_LOOKS: Pair = (1.0, 3.0)
"""Scuffed or scratched and no more (severity 1): a mark on it, which the map's word for "must be dealt with" is not."""
PHOTOGRAPH_SHARE = 0.6
"""Share of what a walk-round shows that photographs show."""
PROVED: Pair = (0.95, 0.1)
"""A heading of the fit-to-ride list proved, or a gate answered with yes after a test."""
ANSWERED_NO: Pair = (0.3, 0.95)
"""A gate answered with no: one of the components behind it is bad, this one or another."""
READING_INSIDE: Pair = (0.95, 0.1)
READING_BAD_BELOW = 0.05
WALK_ROUND = "walk_round"
QUESTIONS: Mapping[str, tuple[tuple[str, ...], tuple[str, ...], float]] = {
    "turns_over": (("turns",), ("turn_rear_wheel",), 0.10),
    "papers_right": (("papers",), ("ask_papers",), 0.05),
    "key_starts_it": (
        ("key_turns", "chip_read", "unit_learns"),
        ("ask_key_turns", "ask_chip_read", "ask_start_film"),
        0.35,
    ),
}
"""Question of the record -> gates that a yes answers, quick checks it amounts to, chance of a no for other reasons."""

_NOT_COMING = ("kept_back", "sent_back", "refused", "refunded", "sold", "fitted")


@dataclass(kw_only=True)
class Evidence:
    """What the findings, readings, proofs and answers of a record come to."""

    bad: tuple[KnownBad, ...] = ()
    put_right: frozenset[str] = frozenset()
    likelihoods: dict[str, Pair] = field(default_factory=dict)
    fine: frozenset[str] = frozenset()
    guesses: tuple[RecordGuess, ...] = ()


def gather(machine: Machine, trade: Trade) -> Evidence:
    """All evidence on single components in a record whose names the trade data know (`check_against_trade` is empty).

    >>> from wreckwright.record.file import read_record
    >>> from wreckwright.trade.load import load_trade
    >>> text = b'nickname = "S"\\nmachine_class = "naked"\\nyear = 2019\\nfindings = ["front rim dinged"]'
    >>> sound, bad = gather(read_record(text), load_trade()).likelihoods["front_wheel"]
    >>> round(bad / sound)
    19
    """
    return _Gatherer(machine, trade).run()


class _Gatherer:
    def __init__(self, machine: Machine, trade: Trade) -> None:
        self.machine = machine
        self.trade = trade
        self.words = Words(trade)
        self.bad: dict[str, KnownBad] = {}
        self.pairs: dict[str, Pair] = {}
        self.fine: set[str] = set()
        self.guesses: list[RecordGuess] = []
        self.photographs = machine.seen_in == "photographs"
        self.superseded = superseded(machine.parts)

    def run(self) -> Evidence:
        read = [(finding, self._read(finding)) for finding in self.machine.findings]
        for finding, match in read:
            if match is not None and not (finding.looked_fine or match.fine or finding.piece):
                self._found_bad(finding, match)
        for reading in self.machine.readings:
            self._reading(reading)
        for finding, match in read:
            if finding.looked_fine or (match is not None and match.fine):
                self._found_fine(finding, match)
        self._proofs()
        self._answers()
        put_right = frozenset(name for name in self.bad if self._is_put_right(name)) | self._led_round()
        return Evidence(
            bad=tuple(bad for name, bad in self.bad.items() if name not in put_right),
            put_right=put_right,
            likelihoods=self.pairs,
            fine=frozenset(self.fine) - frozenset(self.bad),
            guesses=tuple(self.guesses),
        )

    def _read(self, finding: Finding) -> Match | None:
        """The components a finding names, None where it names a whole zone or side."""
        match = read_finding_row(finding, self.words, assume_side=hit_side(self.machine))
        if isinstance(match, Unclear):
            raise ValueError(f"finding {finding.id}: {match.reason}; check_against_trade comes first")
        if match is not None and match.assumed:
            names = ", ".join(self.trade.components[name].name_uk for name in match.components)
            self.guesses.append(
                RecordGuess(
                    field=f"findings.{finding.id}.component", value=f"{names} ({match.assumed})", basis="judgement"
                )
            )
        return match

    def _found_bad(self, finding: Finding, match: Match) -> None:
        for name in match.components:
            detects = self._detects(finding.check, name)
            sure = min(finding.sure, SUREST)
            pair = (detects.false_alarm, detects.sensitivity) if detects else (1.0 - sure, sure)
            if not finding.at_work:
                # What breaks in one's hands is no trace of a fall.
                self._multiply(name, MERE_LOOKS if match.severity == 1 and not match.missing else pair)
            if finding.sure >= KNOWN_BAD_FROM:
                self._on_the_list(
                    KnownBad(
                        component=name,
                        severity=match.severity,
                        missing=match.missing,
                        sure=finding.sure,
                        handle=finding.id,
                        condition=match.condition,
                    )
                )

    def _on_the_list(self, new: KnownBad) -> None:
        old = self.bad.get(new.component)
        self.bad[new.component] = (
            new
            if old is None
            else KnownBad(
                component=new.component,
                severity=max(old.severity, new.severity),
                missing=old.missing or new.missing,
                sure=max(old.sure, new.sure),
                handle=old.handle,
                condition="; ".join(dict.fromkeys(one for one in (old.condition, new.condition) if one)),
            )
        )

    def _found_fine(self, finding: Finding, match: Match | None) -> None:
        if match is not None:
            for name in match.components:
                self._multiply(name, self._look(finding, name, named=True))
                self.fine.add(name)
            return
        # The rest of a side or zone: what a walk-round shows, never what is hidden, and not what was found bad.
        zone = finding_zone(finding, self.trade) or frozenset()
        for name, component in self.trade.components.items():
            seen = not component.hidden and component.seen_from == WALK_ROUND
            if name in zone and seen and name not in self.bad and component.side == (finding.side or component.side):
                self._multiply(name, self._look(finding, name, named=False))
                self.fine.add(name)

    def _look(self, finding: Finding, name: str, *, named: bool) -> Pair:
        """Likelihoods of "looked fine": a miss is 1 - sensitivity, never less than the owner's own doubt."""
        detects = self._detects(finding.check or WALK_ROUND, name)
        if detects is not None:
            if_sound, if_bad = 1.0 - detects.false_alarm, 1.0 - detects.sensitivity
        else:
            if_sound, if_bad = DEFAULT_LOOK
            component = self.trade.components[name]
            if component.hidden:
                if_bad = HIDDEN_LOOK_IF_BAD
            elif named and component.seen_from == WALK_ROUND:
                if_bad = NAMED_LOOK_IF_BAD
        if self.photographs and not finding.check:
            if_bad = 1.0 - (1.0 - if_bad) * PHOTOGRAPH_SHARE
            self._once(
                RecordGuess(
                    field="seen_in",
                    basis="judgement",
                    value=f"photographs show {percent(PHOTOGRAPH_SHARE)} of what a walk-round shows",
                )
            )
        return if_sound, max(if_bad, 1.0 - min(finding.sure, SUREST))

    def _detects(self, check: str, name: str) -> Detects | None:
        found = self.trade.checks.get(check)
        return next((one for one in found.detects if one.component == name), None) if found else None

    def _reading(self, reading: Reading) -> None:
        if not reading.component:
            return
        if reading.if_sound is not None and reading.if_bad is not None:
            self._multiply(reading.component, (reading.if_sound, reading.if_bad))
            return
        inside = chance_inside(reading)
        if inside is None:
            return
        self._multiply(reading.component, mix(inside, READING_INSIDE, tuple(1.0 - one for one in READING_INSIDE)))
        if inside < READING_BAD_BELOW:
            self._on_the_list(
                KnownBad(
                    component=reading.component,
                    severity=2,
                    missing=False,
                    sure=1.0 - inside,
                    handle=reading.id,
                    condition=f"{reading.what} {reading.value:g} {reading.unit}, outside its limits",
                )
            )
        elif inside > 1.0 - READING_BAD_BELOW:
            self.fine.add(reading.component)

    def _proofs(self) -> None:
        for proof in self.machine.proofs:
            for name, component in self.trade.components.items():
                if component.fit_to_ride == proof.item and name not in self.bad:
                    self._multiply(name, PROVED)
                    self.fine.add(name)

    def _answers(self) -> None:
        for gate in self.machine.gates:
            template = self.trade.gates.get(gate.template)
            if template and gate.answer == "yes":
                for name in template.fails_with:
                    self._multiply(name, PROVED)
            elif template and gate.answer in ("no", "way_round"):
                # What came of it later does not undo what the no says about what happened.
                for name in template.fails_with:
                    self._multiply(name, ANSWERED_NO)
        answered = {gate.template for gate in self.machine.gates if gate.answer == "yes"}
        for question, (templates, checks, other_reasons) in QUESTIONS.items():
            answer = getattr(self.machine, question)
            # A gate answered in the record says the same at greater length; it counts once.
            if answer == "unknown" or (answer == "yes" and answered.issuperset(templates)):
                continue
            best: dict[str, Detects] = {}
            for check in checks:
                for one in self.trade.checks[check].detects if check in self.trade.checks else ():
                    if one.component not in best or one.sensitivity > best[one.component].sensitivity:
                        best[one.component] = one
            for name, one in best.items():
                if answer == "yes":
                    self._multiply(name, (1.0 - one.false_alarm, 1.0 - one.sensitivity))
                else:
                    # One no has many possible reasons, of which this component is one.
                    self._multiply(name, (other_reasons, one.sensitivity + (1.0 - one.sensitivity) * other_reasons))

    def _led_round(self) -> frozenset[str]:
        """What was behind a gate that ended in a way round: straightened, replaced or got round."""
        gates = [self.trade.gates.get(gate.template) for gate in self.machine.gates if gate.answer == "way_round"]
        return frozenset(name for gate in gates if gate is not None for name in gate.fails_with)

    def _is_put_right(self, name: str) -> bool:
        lines = [part for part in self.machine.parts if part.component == name and part.id not in self.superseded]
        jobs = [job for job in self.machine.jobs if _mends(job, name)]
        still_open = any(part.state not in _NOT_COMING for part in lines)
        still_open |= any(job.state not in CLOSED_STATES for job in jobs)
        return not still_open and (any(part.state == "fitted" for part in lines) or bool(jobs))

    def _multiply(self, name: str, pair: Iterable[float]) -> None:
        sound, bad = (old * new for old, new in zip(self.pairs.get(name, (1.0, 1.0)), pair, strict=True))
        # Only the ratio counts; kept near 1 so that many pieces cannot run out of digits, and never quite 0.
        top = max(sound, bad)
        self.pairs[name] = (max(sound / top, LEAST_PAIR), max(bad / top, LEAST_PAIR)) if top > 0 else (1.0, 1.0)

    def _once(self, guess: RecordGuess) -> None:
        if guess not in self.guesses:
            self.guesses.append(guess)


def _mends(job: Job, name: str) -> bool:
    """It puts the component right when it is finished. Of the rows that stand for steps only that of the main one."""
    if job.stands_for:
        return job.stands_for == name
    return job.component == name and job.kind in MENDING_KINDS


def mix(share: float, first: Pair, second: Iterable[float]) -> Pair:
    """The pair of an observation that is `first` with chance `share`, else `second`.

    >>> mix(0.5, (1.0, 0.0), (0.0, 1.0))
    (0.5, 0.5)
    """
    sound, bad = (share * one + (1.0 - share) * other for one, other in zip(first, second, strict=True))
    return sound, bad


def chance_inside(reading: Reading) -> float | None:
    """Chance that the true value lies within the limits, or None if there are none.

    The uncertainty is taken as one standard deviation of a normal spread about the value read: conformity probability,
    JCGM 106:2012, 9.5 (formula from memory). Without an uncertainty the value is taken as it stands.

    >>> reading = Reading(id="r1", what="run-out", value=1.0, unit="mm", uncertainty=0.1, limit_high=1.0)
    >>> chance_inside(reading)
    0.5
    """
    low, high = reading.limit_low, reading.limit_high
    if low is None and high is None:
        return None
    low, high = -math.inf if low is None else low, math.inf if high is None else high
    spread = reading.uncertainty
    if not spread:
        return 1.0 if low <= reading.value <= high else 0.0

    def below(limit: float) -> float:
        return 0.5 * (1.0 + math.erf((limit - reading.value) / (spread * math.sqrt(2.0))))

    return below(high) - below(low)
