"""What each kind of snag writes: (handle told, sentence)."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from wreckwright.acts.checks import day_of
from wreckwright.acts.doing import sitting, still_live, touch
from wreckwright.acts.finding_form import check_finding, component_words
from wreckwright.acts.sent import Sent
from wreckwright.acts.several import Several, day_told
from wreckwright.acts.work_key import (
    AT_THE_BENCH,
    Work,
    found_bad,
    is_main,
    line_name,
    standing_for,
    step_key,
    steps_of,
    work_of,
)
from wreckwright.errors import EntryError
from wreckwright.record.evidence import CLOSED_STATES, MENDING_KINDS
from wreckwright.record.faults import one_of, shown
from wreckwright.record.types import Finding, Job, Machine, PartLine
from wreckwright.trade.types import Trade

_BROKEN = {"snapped": "snapped", "missing": "missing", "fails_test": "fails its test"}
_WRONG = {
    "fails_test": "Fails its test",
    "does_not_fit": "Does not fit", "arrived_wrong": "The wrong one came", "snapped": "Snapped", "missing": "Missing",
}
_PIECE_MINUTES = (2.0, 5.0, 15.0)
"""Low, likely, high of putting in a piece for which other work is open anyway (judgement)."""
_SPREAD = math.exp(1.2815515655446004 * 0.35)
"""9 times in 10 a job takes no more than its likely time by this factor; as for jobs of the trade (judgement)."""
_IN_COMMON = ("component", "name", "remedy", "supplier", "plan_b", "plan_b_after_days", "held_until_gate")
"""Of a line that came wrong, what its second order has in common with it."""
_LONGEST_CONDITION = 200
_CAME_FIRST = ("here", "part_arrived", "shipped", "ordered", "deposit_paid", "wanted", "kept_back")
"""Which of several lines is meant by `the part`: that which is nearest."""


@dataclass(frozen=True, kw_only=True)
class Case:
    """One snag, as it was told."""

    several: Several
    uid: str
    machine: Machine
    trade: Trade
    work: Work
    kind: str
    piece: str
    note: str
    photos: tuple[str, ...]
    minutes: int | None
    sent: Sent


def _broken(case: Case) -> tuple[str, str]:
    how = _BROKEN[case.kind]
    named = _named_component(case.piece, case.machine, case.trade)
    component = named or case.work.component
    if case.piece and not named:
        return _broken_piece(case, how)
    if not component and case.work.what == "part":
        return _wrong(case)
    if not component:
        raise EntryError(
            "piece: nothing", allowed=f"what {'snapped' if how == 'snapped' else 'is missing'}, in a few words",
            do="say what it is", field="piece",
        )
    handle = _finding(case, component, how, missing=how == "missing")
    again = _again(case, component) if not named or named == case.work.component else []
    name = component_words(component, case.machine, case.trade)
    return handle, "; ".join([f"{_how_words(how)}: {name}", *again])


def _broken_piece(case: Case, how: str) -> tuple[str, str]:
    """A piece that has no line of its own in the trade data: it is wanted, under its name."""
    work, piece = case.work, case.piece
    line = case.several.new(case.uid, "parts", {
        "name": piece, "lead_class": _comes_like_its_part(case),
        "fits_notes": _notes(case, f"for: {work.name}" if work.what in AT_THE_BENCH else ""),
    })
    _wait_for(case, line)
    said = f"{_how_words(how)}: {piece} ({work.name}); it is wanted"
    if work.component and (work.group == work.component or found_bad(work.component, case.machine)):
        # What is bad already stays so; a sound part is not put on the list of work for the sake of a piece.
        return _finding(case, work.component, piece_condition(piece, how), piece=piece), said
    _keep_photos(case, said)
    return line, said


def _comes_like_its_part(case: Case) -> str | None:
    """Pieces of a maker's part come from where the part itself comes from, and no sooner (common practice)."""
    makers = [line for line in still_live(case.work.lines) if line.remedy in (None, "genuine") and line.lead_class]
    return makers[0].lead_class if makers else None


def piece_condition(piece: str, how: str) -> str:
    """What a finding says of a component of which a mere piece broke or is gone."""
    return f"{piece} {how}"[:_LONGEST_CONDITION]


def line_of_piece(finding: Finding, parts: Iterable[PartLine]) -> PartLine | None:
    """Where a finding tells of a mere piece: the line under which that is wanted, the latest of its name."""
    pieces = [line for line in parts if line.name and not line.component]
    said = [one for one in pieces if finding.condition in {piece_condition(one.name, how) for how in _BROKEN}]
    return said[-1] if said else None


def _wrong(case: Case) -> tuple[str, str]:
    """The line that came wrong stays as such; what is still wanted has a line of its own."""
    line = _line_meant(case)
    how = _WRONG[case.kind]
    notes = _notes(case, how[:1].lower() + how[1:])
    if line is None:
        component = case.work.component
        name = component_words(component, case.machine, case.trade) if component else case.work.name
        base: dict[str, Any] = {"component": component or None, "name": None if component else name}
        old = case.several.new(case.uid, "parts", base | {"state": "wrong", "fits_notes": notes})
    else:
        name, old = line_name(line, case.machine, case.trade), line.id
        name = name[:1].upper() + name[1:]
        base = {one: getattr(line, one) or None for one in _IN_COMMON}
        before = f"{line.fits_notes}; " if line.fits_notes else ""
        case.several.put(case.uid, "parts", old, {"state": "wrong", "fits_notes": f"{before}{notes}"})
    new = case.several.new(case.uid, "parts", base | {"state": "wanted"})
    for job in case.machine.jobs:
        if old in job.parts:
            case.several.put(case.uid, "jobs", job.id, {"parts": [new if one == old else one for one in job.parts]})
    if case.work.component:
        _reopen(case, case.work.component, only_with_part=True)
    _go_on_with(case, old, new)
    said = f"{how}: {name}; another one is wanted"
    _keep_photos(case, said)
    return new, said


def _fails_test(case: Case) -> tuple[str, str]:
    """A new part that is tested before it is fitted goes back; what is on the machine is bad, and open again."""
    step = case.work.step
    if step is not None and step.wants_part and still_live(case.work.lines):
        return _wrong(case)
    return _broken(case)


def _took_longer(case: Case) -> tuple[str, str]:
    if case.minutes is None or not 0 < case.minutes <= 50_000:
        raise EntryError(
            f"minutes: {'nothing' if case.minutes is None else case.minutes}",
            allowed="1 to 50,000 minutes that are still to do", do="say how many you would bet on", field="minutes",
        )
    job = case.work.job
    fields, words = sitting(job, None, case.sent)
    worked = float(fields.get("done_minutes", job.done_minutes if job and job.done_minutes else 0.0))
    low, likely, high = (case.minutes / _SPREAD, float(case.minutes), case.minutes * _SPREAD)
    band = {"low": round(worked + low, 1), "likely": worked + likely, "high": round(worked + high, 1)}
    fields |= {"minutes": band}
    if not case.work.done:
        fields["state"] = "open"
    handle = touch(case.several, case.uid, case.work, fields)
    said = f"Takes longer: {case.work.name}{words}; {case.minutes} min still to do"
    if case.note:
        said += f" ({_first_line(case.note)})"
    _keep_photos(case, said)
    return handle, said


def _gate_failed(case: Case) -> tuple[str, str]:
    machine, name = case.machine, case.work.target
    row = next((one for one in machine.gates if name in (one.id, one.template)), None)
    if row is None:
        handle = case.several.new(case.uid, "gates", {"template": name, "answer": "no"})
    else:
        handle = row.id
        case.several.put(case.uid, "gates", handle, {"answer": "no"})
    said = f"{case.work.name} No"
    _keep_photos(case, f"{said}. {case.note}" if case.note else said, always=bool(case.note))
    return handle, said


def _finding(case: Case, component: str, condition: str, *, missing: bool = False, piece: str = "") -> str:
    at_work = case.kind in ("snapped", "fails_test") and case.work.what in AT_THE_BENCH
    fields: dict[str, Any] = {
        "at_work": case.work.key if at_work else None, "piece": piece or None,
        "component": component, "condition": None if missing else condition, "missing": missing or None,
        "evidence": case.note or None, "photos": list(case.photos) or None,
        "check": case.work.target if case.work.what == "look" else None,
    }
    check_finding(fields, case.machine)
    return case.several.new(case.uid, "findings", fields)


def _again(case: Case, component: str) -> list[str]:
    """A part that was fitted before is wanted once more, and its work is open again."""
    fitted = [line for line in case.machine.parts if line.component == component and line.state == "fitted"]
    closed = [job for job in case.machine.jobs if _of_component(job, component) and job.state in CLOSED_STATES]
    if not (fitted or any(_mends(job, component) for job in closed)):
        return []
    if fitted and not still_live(line for line in case.machine.parts if line.component == component):
        base = {one: getattr(fitted[-1], one) or None for one in _IN_COMMON}
        case.several.new(case.uid, "parts", base | {"state": "wanted"})
    _reopen(case, component)
    return ["its work is open again"]


def _reopen(case: Case, component: str, *, only_with_part: bool = False) -> None:
    """Steps that were done with a part have to be done again with the next one."""
    with_part = {
        step_key(case.work.group, step) for step in steps_of(case.work, case.machine, case.trade)
        if step.wants_part or is_main(step)
    }
    for job in case.machine.jobs:
        if not _of_component(job, component) or job.state not in CLOSED_STATES:
            continue
        if _mends(job, component) or (job.stands_for and (not only_with_part or job.stands_for in with_part)):
            case.several.put(case.uid, "jobs", job.id, {"state": None, "done_minutes": None, "started_at": None})


def _of_component(job: Job, component: str) -> bool:
    if job.stands_for:
        return job.stands_for.partition(":")[0] == component
    return job.component == component


def _mends(job: Job, component: str) -> bool:
    return job.stands_for == component if job.stands_for else (
        job.component == component and job.kind in MENDING_KINDS
    )


def _go_on_with(case: Case, old: str, new: str) -> None:
    """What was written of the fitting of one line goes on with the next: nothing of it is done yet."""
    for job in case.machine.jobs:
        head, handle, *step = (*job.stands_for.split(":", 2), "", "")[:3]
        if head == "part" and handle == old:
            fields = {"stands_for": ":".join(filter(None, (head, new, *step)))}
            again = {"state": None, "done_minutes": None} if job.state in CLOSED_STATES else {}
            case.several.put(case.uid, "jobs", job.id, fields | again | {"started_at": None})


def _wait_for(case: Case, line: str) -> None:
    """The step for which a piece is needed waits for it: moving pieces over, else the fitting, else this very work.

    The piece has a small job of its own, so that there is something to wait for.
    """
    work = case.work
    if work.what not in AT_THE_BENCH:
        return
    steps = steps_of(work, case.machine, case.trade)
    if steps:
        over = next((one for one in steps if one.only_with_pieces), None)
        row = standing_for(step_key(work.group, over), case.machine) if over is not None else None
        closed = row is not None and row.state in CLOSED_STATES
        # The fitting has the key of the group itself.
        key = step_key(work.group, over) if over is not None and not closed else work.group
        if key != work.key:
            work = work_of(key, case.machine, case.trade)
    small, likely, large = _PIECE_MINUTES
    piece = case.several.new(case.uid, "jobs", {
        "name": f"Fit {case.piece}"[:200], "stands_for": f"part:{line}",
        "minutes": {"low": small, "likely": likely, "high": large},
    })
    before = work.job
    touch(case.several, case.uid, work, {
        "parts": [*(before.parts if before else ()), line], "after": [*(before.after if before else ()), piece],
    })


def _line_meant(case: Case) -> PartLine | None:
    lines = [*still_live(case.work.lines), *(one for one in case.work.lines if one.state == "fitted")]
    of_job = [one for one in case.machine.parts if case.work.job is not None and one.id in case.work.job.parts]
    lines += [one for one in still_live(of_job) if one not in lines]
    if case.piece:
        said = case.piece.casefold()
        meant = [
            one for one in (*lines, *case.machine.parts)
            if said in (one.id.casefold(), line_name(one, case.machine, case.trade).casefold())
        ]
        if not meant:
            raise EntryError(
                f"piece: {shown(case.piece)} is no part line of this work",
                allowed=one_of([one.id for one in lines]) if lines else "nothing: it has no part lines",
                do="name the handle of the line, or leave it out", field="piece",
            )
        return meant[0]
    order = (*_CAME_FIRST, "fitted")
    return min(lines, key=lambda one: order.index(one.state), default=None)


def _named_component(piece: str, machine: Machine, trade: Trade) -> str:
    """The component that a piece is called by, id or full name; empty: none. Other words are no component here: `valve`
    or `spacer` is a piece of whatever is being worked on."""
    said = piece.casefold()
    if not said:
        return ""
    return next(
        (
            one.id for one in trade.components.values()
            if said in (one.id.casefold(), component_words(one.id, machine, trade).casefold())
        ),
        "",
    )


def _notes(case: Case, first: str) -> str | None:
    return "; ".join(filter(None, (first, case.note))) or None


def _keep_photos(case: Case, said: str, *, always: bool = False) -> None:
    """Photographs that belong to no finding go into the log with what was said."""
    day = day_of(case.machine, today=lambda: day_told(case.sent)).isoformat()
    for sha in case.photos or (("",) if always else ()):
        case.several.new(case.uid, "log", {"date": day, "note": said, "photo_sha256": sha or None})


def _how_words(how: str) -> str:
    return how[:1].upper() + how[1:]


def _first_line(text: str) -> str:
    first = text.splitlines()[0]
    return first if len(first) <= 80 else first[:77] + "..."


MAKERS: dict[str, Callable[[Case], tuple[str, str]]] = {
    "snapped": _broken,
    "missing": _broken,
    "fails_test": _fails_test,
    "does_not_fit": _wrong,
    "arrived_wrong": _wrong,
    "took_longer": _took_longer,
    "gate_failed": _gate_failed,
}
