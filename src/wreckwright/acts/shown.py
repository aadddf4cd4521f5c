"""Makes the views of `check` and `show` from a record that has been filled in."""

from __future__ import annotations

import os

from wreckwright.acts.views import (
    Checked,
    CheckedProblem,
    Shown,
    ShownFinding,
    ShownGate,
    ShownJob,
    ShownPart,
)
from wreckwright.answers.types import RestsOn, rests_on_words
from wreckwright.errors import RecordError
from wreckwright.futures.gates import GateNeed, gates_of
from wreckwright.futures.worth import LAST_GATE
from wreckwright.record.against_trade import hit_side, read_finding_row
from wreckwright.record.known import YES_IN_THE_END, Known, name_shown
from wreckwright.record.types import Finding, Gate, PartLine
from wreckwright.record.words import Match, Words
from wreckwright.trade.types import Trade

SEVERITY_WORDS = {1: "looks", 2: "works badly", 3: "can hurt"}
ROWS = (
    "findings",
    "signs",
    "remedies",
    "parts",
    "jobs",
    "gates",
    "readings",
    "fastenings",
    "proofs",
    "purse",
    "log",
    "finished",
    "taps",
)


def refused(path: str | os.PathLike[str], error: RecordError) -> Checked:
    problems = tuple(
        CheckedProblem(where=one.where, found=one.found, allowed=one.allowed, do=one.do) for one in error.problems
    )
    return Checked(file=os.fspath(path), good=False, problems=problems, nickname="", rows={}, rests_on=())


def checked(path: str | os.PathLike[str], known: Known) -> Checked:
    machine = known.machine
    rows = {name: len(getattr(machine, name)) for name in ROWS}
    return Checked(
        file=os.fspath(path),
        good=True,
        problems=(),
        nickname=machine.nickname,
        rows={name: count for name, count in rows.items() if count},
        rests_on=rests_on(known),
    )


def rests_on(known: Known) -> tuple[RestsOn, ...]:
    return tuple(
        RestsOn(
            field=guess.field,
            value=guess.value,
            basis=guess.basis,
            words=rests_on_words(field=guess.field, value=guess.value, basis=guess.basis),
        )
        for guess in known.guesses
    )


def names_of(known: Known, trade: Trade) -> dict[str, str]:
    """Ids of components and causes -> names in the owner's words."""
    names = {"only_worn": "nothing but wear"} | {cause.id: cause.name for cause in trade.causes.values()}
    names.update((component, component_name(component, known, trade)) for component in trade.components)
    return names


def component_name(component: str, known: Known, trade: Trade) -> str:
    row = trade.components.get(component)
    return component if row is None else name_shown(row, known)


def shown(known: Known, trade: Trade) -> Shown:
    machine = known.machine
    low, likely, high = known.sound_value_minor
    words = Words(trade)
    return Shown(
        nickname=machine.nickname,
        maker_and_model=machine.maker_and_model,
        year=machine.year,
        machine_class=known.trade_class.name,
        as_of=known.as_of.isoformat(),
        what_hit=machine.what_hit,
        seen_in=machine.seen_in.replace("_", " "),
        currency=machine.currency,
        bought=known.bought,
        price_minor=known.price_minor,
        sunk_minor=known.sunk_minor,
        sound_value_low_minor=low,
        sound_value_likely_minor=likely,
        sound_value_high_minor=high,
        findings=tuple(_finding(finding, words, known, trade) for finding in machine.findings),
        put_right=tuple(component_name(component, known, trade) for component in sorted(known.put_right)),
        gates=_gates(known, trade),
        parts=tuple(_part(part, known, trade) for part in known.parts),
        jobs=tuple(ShownJob(id=job.id, name=job.name, state=job.state.replace("_", " ")) for job in known.jobs),
        proved=tuple(_heading(proof.item, trade) for proof in machine.proofs),
        week_minutes=sum(known.weekday_minutes),
        attendance=known.attendance,
        rests_on=rests_on(known),
    )


def _finding(finding: Finding, words: Words, known: Known, trade: Trade) -> ShownFinding:
    """A finding as it was understood: the words decide severity, and whether it is no damage at all."""
    match = read_finding_row(finding, words, assume_side=hit_side(known.machine))
    understood = match if isinstance(match, Match) else None
    if finding.looked_fine or (understood is not None and understood.fine):
        severity = "sound"
    elif understood is not None and understood.missing:
        severity = "missing"
    else:
        severity = SEVERITY_WORDS[understood.severity if understood is not None else finding.severity]
    named = finding.what or finding.condition or " ".join(filter(None, (finding.zone, finding.side)))
    components = understood.components if understood is not None else ()
    return ShownFinding(
        id=finding.id,
        component="; ".join(component_name(name, known, trade) for name in components),
        words=named.replace("_", " "),
        severity=severity,
        sure=finding.sure,
    )


def _gates(known: Known, trade: Trade) -> tuple[ShownGate, ...]:
    """What was answered, then what is still open: from the record, and what every machine is asked."""
    answers = {gate.template or gate.id: gate.answer for gate in known.gates}
    bench, outside = gates_of(known, trade)
    # A yes does not close every question: the fit-to-ride list closes only by its proofs.
    still_open = {gate.id for gate in (*outside, *bench)}
    answered = tuple(
        _answered(gate, trade)
        for gate in known.gates
        if gate.answer in YES_IN_THE_END and (gate.template or gate.id) not in still_open
    )
    return answered + tuple(_open(gate, answers.get(gate.id, "unasked"), trade) for gate in (*outside, *bench))


def _answered(gate: Gate, trade: Trade) -> ShownGate:
    template = trade.gates.get(gate.template)
    return ShownGate(
        id=gate.id,
        template=gate.template if template else "",
        question=gate.question or (template.question if template else gate.template or gate.id),
        kind=gate.kind or (template.kind if template else ""),
        answer=gate.answer.replace("_", " "),
        quick_look="",
        look_first=(),
        by_proofs=False,
    )


def _open(gate: GateNeed, answer: str, trade: Trade) -> ShownGate:
    template = trade.gates.get(gate.id)
    check = trade.checks.get(template.rough_check) if template else None
    return ShownGate(
        id=gate.id,
        template=gate.id if template else "",
        question=gate.question,
        kind=gate.kind,
        answer=answer.replace("_", " "),
        # What was asked and answered no is not asked again.
        quick_look=f"{check.name} ({check.minutes:.0f} min)" if check and answer != "no" else "",
        look_first=template.guards if template else (),
        by_proofs=gate.id == LAST_GATE,
    )


def _part(part: PartLine, known: Known, trade: Trade) -> ShownPart:
    return ShownPart(
        id=part.id,
        name=part.name or component_name(part.component, known, trade),
        state=part.state.replace("_", " "),
        price_minor=part.price_minor,
        paid_minor=part.paid_minor,
        ordered_on=part.ordered_on.isoformat() if part.ordered_on else None,
    )


def _heading(item: str, trade: Trade) -> str:
    row = trade.fit_items.get(item)
    return row.name if row else item
