"""Work at the bench: begun, left for later, done; covers off and on. Each is one change that undo takes back whole.

What the plan makes from the trade data gets a row of its own in the record when it is first touched: a job that
`stands_for` its key.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from wreckwright.acts.checks import trade_for
from wreckwright.acts.place import Place
from wreckwright.acts.sent import Sent
from wreckwright.acts.several import Several
from wreckwright.acts.shared_hands import all_machines
from wreckwright.acts.work_key import (
    LIVE_STATES,
    Work,
    above,
    bench_work,
    is_main,
    line_name,
    standing_for,
    step_key,
    steps_of,
)
from wreckwright.acts.writes import Told, drafted, write
from wreckwright.answers.plan_words import listed, small
from wreckwright.errors import EntryError, NotThere
from wreckwright.record.evidence import CLOSED_STATES, MENDING_KINDS
from wreckwright.record.faults import one_of, shown
from wreckwright.record.known import PAIRING_GATES
from wreckwright.record.types import Job, Machine, PartLine
from wreckwright.trade.types import Trade

if TYPE_CHECKING:
    from wreckwright.store.read import Reader
    from wreckwright.store.types import Draft

LONGEST_SITTING_MINUTES = 8 * 60
"""A clock that has run longer was forgotten, and says nothing of how long the work took (judgement)."""
_MOST_MINUTES = 100_000


def start(place: Place, uid: str, key: str, sent: Sent) -> Told:
    """Somebody is at it from now on. Whatever was being worked on, on any machine, is left for later: there is one pair
    of hands.

    Raises NotThere, and EntryError for what is done already or is no work at the bench.
    """

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        work = bench_work(key, machine, trade_for(machine))
        if work.done:
            raise EntryError(
                f"key: {work.name} is {_state_words(work)} already", allowed="work that is not done yet",
                do="take that back first if it has to be done again", field="key",
            )
        if work.job is not None and work.job.started_at is not None:
            return drafted(uid, f"{work.name}: begun before", work.job.id, [])
        several = Several(reader, sent)
        left = _leave_others(reader, several, sent)
        handle = touch(several, uid, work, {"state": "open", "started_at": _text(sent.moment)})
        return drafted(uid, "; ".join([f"Begun: {work.name}", *left]), handle, several.writes())

    return write(place, draft, sent)


def stop(place: Place, uid: str, key: str, minutes: int | None, sent: Sent) -> Told:
    """Left for later. `minutes` were worked in this sitting; None: as the clock says, and nothing if it was forgotten.

    Raises NotThere, EntryError.
    """
    _check_minutes(minutes)

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        work = bench_work(key, machine, trade_for(machine))
        running = work.job is not None and work.job.started_at is not None
        if not running and minutes is None:
            return drafted(uid, f"{work.name}: nobody was at it", work.job.id if work.job else "", [])
        several = Several(reader, sent)
        fields, words = sitting(work.job, minutes, sent)
        if not work.done:
            fields["state"] = "open"
        handle = touch(several, uid, work, fields)
        return drafted(uid, f"Left for later: {work.name}{words}", handle, several.writes())

    return write(place, draft, sent)


def done(
    place: Place, uid: str, key: str, minutes: int | None, sent: Sent, *, closed_up: bool = False
) -> Told:
    """It is done. `minutes` were worked in this sitting; None: as the clock says. `closed_up`: what was off for it is
    on again; otherwise its covers are remembered as off.

    When the step that puts a component right is done its part lines are fitted, and the steps before it are done too.
    Raises NotThere, and EntryError for questions, looks and whatever else is not work at the bench.
    """
    _check_minutes(minutes)

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        trade = trade_for(machine)
        work = bench_work(key, machine, trade)
        several = Several(reader, sent)
        handle, said = finish(several, uid, work, machine, trade, minutes, sent, closed_up=closed_up)
        return drafted(uid, said, handle, several.writes())

    return write(place, draft, sent)


def cover(place: Place, uid: str, cover_id: str, off: bool, sent: Sent) -> Told:
    """A cover came off, and those that lie over it with it; or it is on again, and those beneath it too.

    Raises NotThere.
    """

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        trade = trade_for(machine)
        if cover_id not in trade.covers:
            raise NotThere(
                f"there is no cover {shown(cover_id)}", allowed=one_of(trade.covers), do="choose one of these"
            )
        now = machine.covers_off
        if off:
            after = (*now, *(one for one in above([cover_id], trade) if one not in now))
        else:
            after = tuple(one for one in now if one != cover_id and cover_id not in above([one], trade))
        moved = [one for one in (after if off else now) if one not in (now if off else after)]
        if not moved:
            name = trade.covers[cover_id].name
            return drafted(uid, f"{'Off' if off else 'On'} before: {name}", "", [])
        several = Several(reader, sent)
        several.put(uid, "machine", "machine", {"covers_off": list(after) or None})
        said = f"{'Off' if off else 'On again'}: {cover_names(moved, trade)}"
        return drafted(uid, said, "", several.writes())

    return write(place, draft, sent)


# What other acts of doing share. ------------------------------------------------------------------------------------


def finish(
    several: Several, uid: str, work: Work, machine: Machine, trade: Trade, minutes: int | None, sent: Sent, *,
    closed_up: bool = False,
) -> tuple[str, str]:
    """All that is written when work is done; the handle of its row, and a sentence. See `done`."""
    handle = work.job.id if work.job else ""
    said = [f"{'Done' if not work.done else 'Done before'}: {work.name}"]
    if not work.done or minutes is not None:
        fields, words = sitting(work.job, minutes, sent)
        said[0] += words
        handle = touch(several, uid, work, fields | ({} if work.done else {"state": "closed_up"}))
    if not work.done:
        _steps_before(several, uid, work, machine, trade, None if minutes is None else 0, sent)
        fitted = _parts_used(several, uid, work, machine, trade)
        said += [f"fitted: {listed(tuple(fitted))}"] if fitted else []
        said += _tested_anew(several, uid, work, machine, trade)
        said += _asked_anew(several, uid, work, machine, trade) if fitted else []
    said += _covers_after(several, uid, work, machine, trade, closed_up=closed_up)
    return handle, "; ".join(said)


def touch(several: Several, uid: str, work: Work, fields: Mapping[str, Any]) -> str:
    """Write into the row that stands for a piece of work, which is made if there is none yet; its handle."""
    if work.job is not None:
        several.put(uid, "jobs", work.job.id, fields)
        return work.job.id
    # Only the step that puts a component right names it: other rows must not tell that it is right.
    component = work.component if work.what == "main" else ""
    base = {"name": work.name, "kind": work.kind, "stands_for": work.key, "component": component or None}
    return several.new(uid, "jobs", base | dict(fields))


def sitting(job: Job | None, minutes: int | None, sent: Sent) -> tuple[dict[str, Any], str]:
    """The fields of a job after a sitting, and words for the journal."""
    fields: dict[str, Any] = {}
    started = job.started_at if job else None
    if started is not None:
        fields["started_at"] = None
    words = ""
    worked = minutes
    if worked is None and started is not None:
        worked = elapsed_minutes(started, sent.moment)
        if worked > LONGEST_SITTING_MINUTES:
            worked, words = None, " (the clock was forgotten: no minutes counted)"
    if worked:
        before = job.done_minutes or 0.0 if job else 0.0
        # As it stands in a record: no fraction where there is none.
        fields["done_minutes"] = float(before + worked)
        words = f", {worked} min"
    return fields, words


def elapsed_minutes(started: dt.datetime, now: dt.datetime) -> int:
    """Whole minutes between two moments, 0 or more. One without a zone is the time of this computer."""
    return max(0, round((now - started.astimezone(dt.UTC)).total_seconds() / 60))


def cover_names(covers: Iterable[str], trade: Trade) -> str:
    """Covers by name, with `off` left out.

    >>> from wreckwright.acts.checks import trade_data
    >>> cover_names(["seat_off", "battery_out"], trade_data())
    'seat and battery disconnected and out'
    """
    names = [trade.covers[one].name.removesuffix(" off") if one in trade.covers else one for one in covers]
    return listed(tuple(small(name) for name in names))


def still_live(lines: Iterable[PartLine]) -> list[PartLine]:
    """Lines of parts that are going to be fitted."""
    return [line for line in lines if line.state in LIVE_STATES]


def running_works(reader: Reader) -> list[tuple[str, Machine, Job]]:
    """(uid, machine, job) of all that somebody is at, on any machine; records that cannot be read are left out."""
    machines = all_machines(reader)
    return [(uid, machine, job) for uid, machine in machines for job in machine.jobs if job.started_at is not None]


def _leave_others(reader: Reader, several: Several, sent: Sent) -> list[str]:
    said = []
    for uid, machine, job in running_works(reader):
        fields, words = sitting(job, None, sent)
        several.put(uid, "jobs", job.id, fields)
        said.append(f"left for later: {machine.nickname}, {job.name}{words}")
    return said


def _check_minutes(minutes: int | None) -> None:
    if minutes is not None and not 0 <= minutes <= _MOST_MINUTES:
        raise EntryError(
            f"minutes: {minutes}", allowed=f"0 to {_MOST_MINUTES:,}", do="say how long it took, or leave it out",
            field="minutes",
        )


def _steps_before(
    several: Several, uid: str, work: Work, machine: Machine, trade: Trade, minutes: int | None, sent: Sent
) -> None:
    """With the step that puts a component right, those before it are done. `minutes`: of each of their sittings; None:
    as the clock says."""
    if work.what not in ("main", "part"):
        return
    for step in steps_of(work, machine, trade):
        if is_main(step):
            return
        row = standing_for(step_key(work.group, step), machine)
        if row is not None and row.state not in CLOSED_STATES:
            several.put(uid, "jobs", row.id, sitting(row, minutes, sent)[0] | {"state": "closed_up"})


def _tested_anew(several: Several, uid: str, work: Work, machine: Machine, trade: Trade) -> list[str]:
    """A test that was made before the component was put right says nothing of it as it is now."""
    if work.what not in ("main", "part"):
        return []
    written = steps_of(work, machine, trade)
    main = next((at for at, step in enumerate(written) if is_main(step)), len(written))
    said = []
    for step in written[main + 1 :]:
        row = standing_for(step_key(work.group, step), machine)
        if step.kind == "test" and row is not None and row.state in CLOSED_STATES:
            several.put(uid, "jobs", row.id, {"state": None})
            said.append(f"to be done again: {row.name[:1].lower()}{row.name[1:]}")
    return said


def _parts_used(several: Several, uid: str, work: Work, machine: Machine, trade: Trade) -> list[str]:
    """Names of the part lines that are fitted with it; a part that was tried on is here."""
    rows = [work.job] if work.job is not None else []
    if work.rights and work.group:
        rows += [job for job in machine.jobs if job.stands_for.startswith(f"{work.group}:")]
    used = [line for line in machine.parts if any(line.id in row.parts for row in rows)]
    if work.rights:
        used += [line for line in work.lines if line not in used]
    elif work.kind not in MENDING_KINDS:
        used = []
    if not work.rights and work.step is not None and work.step.wants_part:
        for line in still_live(work.lines):
            if line.state not in ("here", "kept_back") and line not in used:
                several.put(uid, "parts", line.id, {"state": "here"})
    fitted = still_live(used)
    for line in fitted:
        several.put(uid, "parts", line.id, {"state": "fitted"})
        own = standing_for(f"part:{line.id}", machine)
        if own is not None and own.state not in CLOSED_STATES and (work.job is None or own.id != work.job.id):
            several.put(uid, "jobs", own.id, {"state": "closed_up", "started_at": None})
    return [line_name(line, machine, trade) for line in fitted]


def _asked_anew(several: Several, uid: str, work: Work, machine: Machine, trade: Trade) -> list[str]:
    """What was answered of the old coded key or unit is no answer for the one that is fitted now."""
    said = []
    for gate in machine.gates:
        template = trade.gates.get(gate.template or gate.id)
        if template is None or template.id not in PAIRING_GATES or gate.answer == "unasked":
            continue
        if work.rights and work.component in template.fails_with:
            several.put(uid, "gates", gate.id, {"answer": None})
            said.append(f"to be asked anew: {gate.question or template.question}")
    return said


def _covers_after(
    several: Several, uid: str, work: Work, machine: Machine, trade: Trade, *, closed_up: bool
) -> list[str]:
    wanted = above(work.covers, trade)
    now = machine.covers_off
    if closed_up:
        after = list(now)
        for one in reversed(wanted):
            # What lies over a cover that stays off for something else stays off too.
            if one in after and not any(one in above([other], trade) for other in after if other != one):
                after.remove(one)
        words = "on again"
    else:
        after = [*now, *(one for one in wanted if one not in now)]
        words = "left off"
    moved = [one for one in wanted if (one in now) != (one in after)]
    if not moved:
        return []
    several.put(uid, "machine", "machine", {"covers_off": after or None})
    return [f"{words}: {cover_names(moved, trade)}"]


def _state_words(work: Work) -> str:
    return work.job.state.replace("_", " ") if work.job else ""


def _text(moment: dt.datetime) -> str:
    return moment.isoformat().replace("+00:00", "Z")

