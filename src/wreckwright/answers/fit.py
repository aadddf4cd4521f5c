"""The fit-to-ride list: what has been proved by hand before anybody rides it. No chance ever proves anything."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass

import msgspec

from wreckwright.answers.types import FitEntry, FitList, FitState, RestsOn, Suspect, rests_on_words
from wreckwright.answers.words import in_ten, listed, share
from wreckwright.record.against_trade import hit_side, read_finding_row
from wreckwright.record.evidence import CLOSED_STATES, KNOWN_BAD_FROM, MENDING_KINDS
from wreckwright.record.types import Finding, Machine, Proof, Reading
from wreckwright.record.words import Match, Words
from wreckwright.trade.types import FitItem, Trade

SUSPECT_OVER = 0.1
"""Chance of damage above which a component counts as suspected (judgement)."""
OPEN_NAMED = 5
"""More open headings than this are not named in the sentence; they all stand in the list."""
FRAME_METAL = frozenset({"frame_head", "frame_spars", "subframe", "swingarm"})
"""Mending one of these is welding or straightening, whatever the job is called."""
WELDED = re.compile(r"\b(re-?)?(weld|straighten|braz(e|ing))|\b(bent|pulled|pressed) (back|straight)", re.IGNORECASE)
SHUT = ("road test", "handover")
WORKED_ON = frozenset({"open", "closed_up", "proved"})
NOTES = (
    "The maker's manual and the law of the place go before this list.",
    "The second pair of eyes should belong to somebody who did not do the work.",
)


def fit(machine: Machine, trade: Trade, *, damage: Mapping[str, float], as_of: dt.date) -> FitList:
    """Put every heading of `trade.fit_items` to *proved*, *not proved* or *not touched but suspected*.

    `damage`: component -> chance that it is bad (0..1); it can make a heading suspected, and never proves one.
    A heading is proved by a hands-on proof in the record (`proofs`), or by readings taken for it that lie within their
    limits with their whole uncertainty, if nothing else under it is suspected. A part under it that was found bad and
    has not been put right since keeps it open, unless the proof is dated later; so does a reading outside its limits.
    Where the record tells of welding or straightening under the heading, the proof must name a specialist's paper.
    Common practice throughout, no source.
    """
    machine = msgspec.structs.replace(machine, findings=_by_component(machine, trade))
    absent = _absent(machine, trade)
    entries = []
    for item in trade.fit_items.values():
        under = tuple(c.id for c in trade.components.values() if c.fit_to_ride == item.id)
        here = frozenset(under) - absent
        if here or not under:
            entries.append(_entry(machine, trade, item, here, damage))
    open_items = tuple(entry.name for entry in entries if entry.state != "proved")
    alone = tuple(entry.name for entry in entries if entry.state == "proved" and not entry.second_person)
    notes = NOTES if not alone else (*NOTES, f"No second pair of eyes is named for: {listed(alone)}.")
    line = f"a part counts as suspected over a chance of {share(SUSPECT_OVER)}"
    basis = RestsOn(
        field="findings", value=line, basis="judgement",
        words=rests_on_words(field="findings", value=line, basis="judgement"),
    )
    return FitList(
        nickname=machine.nickname, as_of=as_of.isoformat(), why=_why(tuple(entries), open_items), rests_on=(basis,),
        items=tuple(entries), all_proved=not open_items, shut=SHUT if open_items else (), suspect_over=SUSPECT_OVER,
        without_second_person=alone, notes=notes,
    )


@dataclass(frozen=True, kw_only=True)
class _Case:
    """All the record says about one heading."""

    proof: Proof | None
    readings: tuple[Reading, ...]
    """Last of each kind that were taken for it."""
    welded: str
    """What tells of welding or straightening; empty: nothing does."""
    worked_on: bool
    bad: tuple[Finding, ...]
    """Findings that say something under it is bad."""
    still_bad: tuple[Finding, ...]
    """Those that are sure, more than a matter of looks, and not put right by a part fitted or a job closed up."""
    suspected: tuple[Suspect, ...]


def _entry(
    machine: Machine, trade: Trade, item: FitItem, components: frozenset[str], damage: Mapping[str, float]
) -> FitEntry:
    case = _case(machine, item, components, damage)
    us = machine.owner.words == "us"
    names = {c: trade.components[c].name_us if us else trade.components[c].name_uk for c in components}
    state, proof, reason = _state(case, names)
    return FitEntry(
        item=item.id, name=item.name, state=state, how_proved=item.how_proved, proof=proof,
        second_person=case.proof.second_person if case.proof else "",
        specialist_paper=case.proof.specialist_paper if case.proof else "",
        needs_specialist_paper=bool(case.welded), suspected=case.suspected, reason=reason,
    )


def _case(machine: Machine, item: FitItem, components: frozenset[str], damage: Mapping[str, float]) -> _Case:
    proofs = [proof for proof in machine.proofs if _names(proof.item, item)]
    last: dict[str, Reading] = {}
    for reading in machine.readings:
        if _names(reading.proves, item) or reading.component in components:
            last[f"{reading.component} {reading.what.casefold()}"] = reading
    bad = tuple(f for f in machine.findings if f.component in components and not f.looked_fine)
    chances = {component: damage.get(component, 0.0) for component in components}
    chances.update({finding.component: max(finding.sure, chances[finding.component]) for finding in bad})
    suspected = sorted(
        ((name, p) for name, p in chances.items() if p > SUSPECT_OVER or any(f.component == name for f in bad)),
        key=lambda pair: (-pair[1], pair[0]),
    )
    worked_on = any(job.component in components and job.state in WORKED_ON for job in machine.jobs) or any(
        part.component in components and part.state == "fitted" for part in machine.parts
    )
    seen = frozenset(finding.component for finding in bad if finding.sure >= KNOWN_BAD_FROM)
    put_right = {part.component for part in machine.parts if part.state == "fitted"} | {
        job.component for job in machine.jobs if job.kind in MENDING_KINDS and job.state in CLOSED_STATES
    }
    # A reading that was not taken for the heading cannot prove it, but can speak against it.
    readings = tuple(r for r in last.values() if _names(r.proves, item) or _outside(r))
    return _Case(
        proof=proofs[-1] if proofs else None, readings=readings, welded=_welded(machine, components),
        worked_on=worked_on, bad=bad,
        still_bad=tuple(
            f for f in bad
            if f.sure >= KNOWN_BAD_FROM and (f.severity > 1 or f.missing) and f.component not in put_right
        ),
        suspected=tuple(
            Suspect(component=name, chance=p, words=_suspicion(p, found=name in seen, put_right=name in put_right))
            for name, p in suspected
        ),
    )


def _suspicion(chance: float, *, found: bool, put_right: bool) -> str:
    if not found:
        return f"{in_ten(chance)}, trade judgement"
    return "found bad, put right since" if put_right else "found bad"


def _state(case: _Case, names: Mapping[str, str]) -> tuple[FitState, str, str]:
    """State, what proved it, and why."""
    outside = tuple(f"{r.what} {r.value:g} {r.unit}" for r in case.readings if not _within(r))
    if outside:
        return "not proved", "", f"This reading does not prove it: {listed(outside)}."
    proof = case.proof
    if proof is not None:
        if not proof.how.strip():
            return "not proved", "", "The proof does not say how it was done."
        if case.welded and not proof.specialist_paper.strip():
            return "not proved", "", (
                f"The record tells of welding or straightening ({case.welded}): it needs a specialist's paper."
            )
        later = [f for f in case.bad if f.at is not None and proof.at is not None and f.at > proof.at]
        if later:
            return "not proved", "", f"Found bad after it had been proved: {_said(later[-1])}."
        # What is known of welding is settled by the specialist's paper, which has been asked for above.
        open_still = [
            f for f in case.still_bad if (f.at is None or proof.at is None) and not WELDED.search(_said(f))
        ]
        if open_still:
            return "not proved", "", (
                f"Found bad, and nothing says that it has been put right: {_said(open_still[-1])}; note the part "
                "fitted or the job closed up, or the days of finding and proof."
            )
        second = f", second pair of eyes: {proof.second_person}" if proof.second_person else ", nobody else looked"
        return "proved", proof.how, f"Proved by hand{second}."
    if case.readings:
        measured = frozenset(reading.component for reading in case.readings)
        beside = tuple(names[s.component] for s in case.suspected if s.component not in measured)
        if case.welded:
            return "not proved", "", (
                f"The record tells of welding or straightening ({case.welded}): readings alone do not prove it."
            )
        if beside:
            return "not proved", "", f"The readings are within their limits, but still suspected: {listed(beside)}."
        how = listed(tuple(f"{r.what} {r.value:g} {r.unit}" for r in case.readings))
        return "proved", how, "Proved by reading, within the limits with its whole uncertainty."
    if case.worked_on:
        return "not proved", "", "It has been worked on and not been proved since."
    if case.suspected:
        top = case.suspected[0]
        said = f"{names[top.component]}, {top.words}"
        return "not touched but suspected", "", f"Nobody has touched it; suspected: {said}."
    return "not proved", "", "Nobody has proved it yet; that nothing speaks against it is no proof."


def _within(reading: Reading) -> bool:
    """The whole band of the reading lies within its limits, and it has a limit at all."""
    if reading.limit_low is None and reading.limit_high is None:
        return False
    spread = reading.uncertainty or 0.0
    low_ok = reading.limit_low is None or reading.value - spread >= reading.limit_low
    return low_ok and (reading.limit_high is None or reading.value + spread <= reading.limit_high)


def _outside(reading: Reading) -> bool:
    """The value read lies beyond a limit."""
    low, high = reading.limit_low, reading.limit_high
    return (low is not None and reading.value < low) or (high is not None and reading.value > high)


def _by_component(machine: Machine, trade: Trade) -> tuple[Finding, ...]:
    """The findings, those in plain words put down under each component that they name."""
    if all(finding.component in trade.components for finding in machine.findings):
        return machine.findings
    words, side = Words(trade), hit_side(machine)
    out: list[Finding] = []
    for finding in machine.findings:
        match = None if finding.component in trade.components else read_finding_row(finding, words, assume_side=side)
        if not isinstance(match, Match):
            out.append(finding)
            continue
        out.extend(
            msgspec.structs.replace(
                finding, component=name, severity=match.severity, missing=match.missing,
                looked_fine=finding.looked_fine or match.fine,
            )
            for name in match.components
        )
    return tuple(out)


def _welded(machine: Machine, components: frozenset[str]) -> str:
    """What in the record tells of welding or straightening under these components."""
    for job in machine.jobs:
        mended = job.kind == "repair" and job.component in FRAME_METAL & components
        # A job that names no component is taken to be about the frame.
        about = job.component in components or (not job.component and bool(FRAME_METAL & components))
        if mended or (about and WELDED.search(job.name)):
            return job.name
    for remedy in machine.remedies:
        if remedy.remedy == "repair" and remedy.component in FRAME_METAL & components:
            return f"{remedy.component} repaired"
    for finding in machine.findings:
        if finding.component in components and not finding.looked_fine and WELDED.search(_said(finding)):
            return _said(finding)
    return ""


def _absent(machine: Machine, trade: Trade) -> frozenset[str]:
    wanted = machine.machine_class.casefold()
    for row in trade.classes.values():
        if wanted in (row.id.casefold(), row.name.casefold(), *(word.casefold() for word in row.synonyms)):
            return frozenset(row.absent_components)
    return frozenset()


def _names(words: str, item: FitItem) -> bool:
    return words.strip().casefold() in (item.id.casefold(), item.name.casefold())


def _said(finding: Finding) -> str:
    return " ".join(filter(None, (finding.what, finding.condition))) or finding.component


def _why(entries: tuple[FitEntry, ...], open_items: tuple[str, ...]) -> str:
    proved = len(entries) - len(open_items)
    if not open_items:
        return (
            f"All {len(entries)} headings have been proved by hand or by reading: this list no longer holds "
            f"{listed(SHUT)} shut."
        )
    suspected = sum(entry.state == "not touched but suspected" for entry in entries)
    named = f": {'; '.join(open_items)}" if len(open_items) <= OPEN_NAMED else ""
    return (
        f"{proved} of {len(entries)} headings {'is' if proved == 1 else 'are'} proved"
        + (f", {suspected} not touched but suspected" if suspected else "")
        + f"; {listed(SHUT)} stay shut until all are proved{named}."
    )
