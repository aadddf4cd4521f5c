"""The fit-to-ride list: what has been proved by hand before anybody rides it. No chance ever proves anything."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass

from wreckwright.answers.types import FitEntry, FitList, FitState, RestsOn, Suspect, rests_on_words
from wreckwright.answers.words import in_ten, listed
from wreckwright.record.types import Finding, Machine, Proof, Reading
from wreckwright.trade.types import FitItem, Trade

SUSPECT_OVER = 0.1
"""Chance of damage above which a component counts as suspected (judgement)."""
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
    limits with their whole uncertainty, if nothing else under it is suspected. Where the record tells of welding or
    straightening under the heading, the proof must name a specialist's paper. Common practice throughout, no source.
    """
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
    line = f"a part counts as suspected over a chance of {SUSPECT_OVER:.0%}"
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
        if _names(reading.proves, item):
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
    seen = frozenset(finding.component for finding in bad)
    return _Case(
        proof=proofs[-1] if proofs else None, readings=tuple(last.values()), welded=_welded(machine, components),
        worked_on=worked_on, bad=bad,
        suspected=tuple(
            Suspect(component=name, chance=p, words="found bad" if name in seen else f"{in_ten(p)}, trade judgement")
            for name, p in suspected
        ),
    )


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
        return f"All {len(entries)} headings have been proved by hand or by reading."
    suspected = sum(entry.state == "not touched but suspected" for entry in entries)
    return (
        f"{proved} of {len(entries)} headings are proved"
        + (f", {suspected} not touched but suspected" if suspected else "")
        + f"; {listed(SHUT)} stay shut until all are proved: {'; '.join(open_items)}."
    )
