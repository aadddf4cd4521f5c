"""Sorting what was told in passing: one tap becomes a finding, tells of a part or a job, or stays a note."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from wreckwright.acts.checks import check_row, trade_for
from wreckwright.acts.doing import finish
from wreckwright.acts.finding_form import (
    FindingForm,
    FindingState,
    check_finding,
    component_words,
    finding_fields,
    finding_words,
)
from wreckwright.acts.loose_ends import loose_words
from wreckwright.acts.place import Place
from wreckwright.acts.sent import Sent
from wreckwright.acts.several import Several
from wreckwright.acts.work_key import bench_work, work_of
from wreckwright.acts.writes import Told, drafted, find_row, new_row, tap_words, write
from wreckwright.errors import ConflictError, EntryError, FieldConflict
from wreckwright.record.faults import nearest, one_of, shown
from wreckwright.record.types import Machine

if TYPE_CHECKING:
    from wreckwright.store.read import Reader
    from wreckwright.store.types import Draft, StoredRow

As = Literal[
    "finding", "part_here", "part_fitted", "part_wrong", "new_part_here", "job_closed", "new_job", "loose_end", "note"
]
AS_WORDS: dict[str, str] = {
    "finding": "a finding",
    "part_here": "a part line: it is here",
    "part_fitted": "a part line: it is fitted",
    "part_wrong": "a part line: it is the wrong one",
    "new_part_here": "a part that stands in no line yet: it is here",
    "job_closed": "a job: it is closed up",
    "new_job": "a new job",
    "loose_end": "a loose end, which stands first on every list until it is seen to",
    "note": "a note, and nothing else",
}
PARTS_OPEN = ("wanted", "kept_back", "deposit_paid", "ordered", "shipped", "part_arrived", "here", "wrong")
"""States of a part line that can still become here or fitted."""
JOBS_OPEN = ("not_yet", "can_be_done", "open", "closed_up")
_PART_STATES = {"part_here": "here", "part_fitted": "fitted", "part_wrong": "wrong"}
_LONGEST_NAME = 200
_RAGS = re.compile(r"\brags?\b", re.IGNORECASE)


@dataclass(frozen=True, kw_only=True)
class Decision:
    """What a tap means."""

    as_: As
    target: str = ""
    """Handle of the part line or job that it speaks of; of a loose end the key of the work, or empty."""
    component: str = ""
    what: str = ""
    """Words of the new finding, part or job; empty: the note of the tap."""
    severity: int | None = None
    state: FindingState = "bad"
    """Of a new finding."""
    note: str = ""
    """Replaces the note of the tap; empty: it stays."""


class _Became(NamedTuple):
    handle: str
    """Empty: it stays a note."""
    writes: list[Any]
    said: str


def decide(place: Place, uid: str, handle: str, base_rev: int, decision: Decision, sent: Sent) -> Told:
    """Sort a tap, in one change with what it becomes. The handle told is that of the row it became, or its own.

    Photographs of the tap go along to a finding. Raises EntryError, NotThere, RecordError, and ConflictError if the tap
    was sorted already.
    """
    from wreckwright.store.types import Put

    if decision.as_ not in _MAKERS:
        raise EntryError(f"as: found {shown(decision.as_)}", allowed=one_of(AS_WORDS), do="choose one", field="as")
    note = decision.note.strip()
    check_row("taps", {"note": note or None})

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        row = find_row(reader, uid, "taps", handle)
        if row.fields.get("decided"):
            raise _decided_already(reader, row, machine)
        told_note = note or str(row.fields.get("note", ""))
        became = _MAKERS[decision.as_](_Case(reader, uid, machine, row, told_note, decision, sent))
        fields: dict[str, Any] = {"decided": True}
        if became.handle:
            fields["became"] = became.handle
        if note:
            fields["note"] = note
        tap_put = Put(key=row.key, fields=fields, base_rev=base_rev)
        return drafted(uid, became.said, became.handle or handle, [*became.writes, tap_put])

    return write(place, draft, sent)


class _Case(NamedTuple):
    reader: Reader
    uid: str
    machine: Machine
    tap: StoredRow
    note: str
    decision: Decision
    sent: Sent


def _finding(case: _Case) -> _Became:
    decision = case.decision
    words = decision.what.strip() or ("" if decision.component else case.note)
    fields = finding_fields(
        FindingForm(
            what=words,
            component=decision.component,
            state=decision.state,
            severity=decision.severity,
            evidence=case.note if case.note != words else "",
            photos=tuple(case.tap.fields.get("photos", ())),
        )
    )
    finding = check_finding(fields, case.machine)
    handle = case.reader.next_handle(case.uid, "findings")
    said = f"Sorted into a finding: {finding_words(finding, case.machine)}"
    return _Became(handle, [new_row(case.uid, "findings", handle, fields, case.sent)], said)


def _part(case: _Case) -> _Became:
    state = _PART_STATES[case.decision.as_]
    row = _target(case, "parts")
    now = str(row.fields.get("state", "wanted"))
    # Only what is fitted can turn out wrong later; what went back or was sold is gone.
    allowed = (*PARTS_OPEN, "fitted") if state in ("wrong", "fitted") else PARTS_OPEN
    name = _row_name(row, case.machine)
    if now not in allowed:
        raise EntryError(
            f"target: {name} ({row.key.handle}) is {now.replace('_', ' ')}",
            allowed=f"a part line that is {one_of(one.replace('_', ' ') for one in allowed)}",
            do="choose another part line, or a part that stands in no line yet",
            field="target",
        )
    return _Became(row.key.handle, _state(row, state), f"Part {'is wrong' if state == 'wrong' else state}: {name}")


def _new_part(case: _Case) -> _Became:
    name, component = _named(case)
    fields = {"name": name or None, "component": component or None, "state": "here"}
    handle, put = _new(case, "parts", fields)
    return _Became(handle, [put], f"Part here, not ordered before: {name or _component(component, case.machine)}")


def _job_closed(case: _Case) -> _Became:
    row = _target(case, "jobs")
    key = str(row.fields.get("stands_for", ""))
    if key:
        # A job of the plan: its parts are fitted with it, as when it is told on its card.
        trade = trade_for(case.machine)
        several = Several(case.reader, case.sent)
        work = bench_work(key, case.machine, trade)
        handle, said = finish(several, case.uid, work, case.machine, trade, None, case.sent)
        return _Became(handle, several.writes(), said)
    # A job that is proved is closed up as well, and more.
    writes = _state(row, "closed_up") if row.fields.get("state", "not_yet") in JOBS_OPEN else []
    return _Became(row.key.handle, writes, f"Closed up: {_row_name(row, case.machine)}")


def _new_job(case: _Case) -> _Became:
    """Told as done, it is closed up; else it is still to be done."""
    name, component = _named(case)
    name = name or _component(component, case.machine)
    done = case.tap.fields["what"] == "done"
    fields = {
        "name": name,
        "component": component or None,
        "kind": "adjust" if case.tap.fields["what"] == "left_loose" else None,
        "state": "closed_up" if done else None,
    }
    handle, put = _new(case, "jobs", fields)
    return _Became(handle, [put], f"{'Done and closed up' if done else 'New job'}: {name}")


def _loose_end(case: _Case) -> _Became:
    """Photographs of the tap go along. Rags are told of in so many words; else a tap is a bag, or something loose."""
    words = case.decision.what.strip() or case.note
    if case.decision.target:
        work_of(case.decision.target, case.machine, trade_for(case.machine))
    what = "bag" if case.tap.fields["what"] == "bag" else "rags" if _RAGS.search(words) else "loose"
    fields = {
        "what": what,
        "words": words or None,
        "work": case.decision.target or None,
        "photos": list(case.tap.fields.get("photos", ())) or None,
    }
    handle, put = _new(case, "loose_ends", fields)
    return _Became(handle, [put], f"Not to be forgotten: {loose_words(what, words)}")


def _note(case: _Case) -> _Became:
    photos = len(case.tap.fields.get("photos", ()))
    return _Became("", [], f"Kept as a note: {tap_words(str(case.tap.fields['what']), case.note, photos)}")


_MAKERS: dict[str, Callable[[_Case], _Became]] = {
    "finding": _finding,
    "part_here": _part,
    "part_fitted": _part,
    "part_wrong": _part,
    "new_part_here": _new_part,
    "job_closed": _job_closed,
    "new_job": _new_job,
    "loose_end": _loose_end,
    "note": _note,
}


def _new(case: _Case, kind: str, fields: dict[str, Any]) -> tuple[str, Any]:
    check_row(kind, fields)
    handle = case.reader.next_handle(case.uid, kind)
    return handle, new_row(case.uid, kind, handle, fields, case.sent)


def _state(row: StoredRow, state: str) -> list[Any]:
    from wreckwright.store.types import Put

    # The row as it is in this very transaction: a state is what the tap says, whatever it was before.
    return [Put(key=row.key, fields={"state": state}, base_rev=row.rev)]


def _target(case: _Case, kind: str) -> StoredRow:
    if not case.decision.target:
        what = "part line" if kind == "parts" else "job"
        raise EntryError(
            f"target: no {what} is named",
            allowed=f"a {what} of this machine",
            do=f"choose the {what}, or make a new one of it",
            field="target",
        )
    return find_row(case.reader, case.uid, kind, case.decision.target)


def _named(case: _Case) -> tuple[str, str]:
    """(name, component) of a new part or job, of which one at least is there."""
    component = case.decision.component.strip()
    trade = trade_for(case.machine)
    if component and component not in trade.components:
        near = nearest(component, trade.components)
        raise EntryError(
            f"component: {shown(component)} is no component of the trade data",
            allowed="a component, or words alone",
            do=f"choose {one_of(near)}" if near else "choose one from the list, or leave it out",
            field="component",
        )
    name = " ".join((case.decision.what.strip() or case.note).split())[:_LONGEST_NAME]
    if not (name or component):
        raise EntryError(
            "nothing is said",
            allowed="a few words, or a component",
            do="write what it is, or choose the component",
            field="what",
        )
    return name, component


def _component(component: str, machine: Machine) -> str:
    return component_words(component, machine, trade_for(machine))


def _row_name(row: StoredRow, machine: Machine) -> str:
    component = str(row.fields.get("component", ""))
    return str(row.fields.get("name", "")) or _component(component, machine) or row.key.handle


def _decided_already(reader: Reader, row: StoredRow, machine: Machine) -> ConflictError:
    became = str(row.fields.get("became", ""))
    since = ""
    for image, change_id in reversed(reader.history(row.key)):
        if not (image.before or {}).get("decided"):
            line = reader.change(change_id)
            since = line.what if line else ""
            break
    words = tap_words(str(row.fields["what"]), str(row.fields.get("note", "")), 0)
    return ConflictError(
        f"the tap {shown(words)} of {machine.nickname} was sorted already"
        + (f", into {became}" if became else ", as a note"),
        allowed="a tap that nobody has sorted yet",
        do="look at what it became; take that back first if it is not right",
        conflicts=[
            FieldConflict(
                kind="taps", handle=row.key.handle, field="decided", base=None, now=True, wanted=True, since=since
            )
        ],
    )
