"""What a well-shaped record must also obey within itself: references, orders, cycles, contradictions.

References into the trade data (components, covers, classes, ...) are the business of `against_trade`.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from typing import Any

from wreckwright.record.faults import Fault, nearest, one_of, shown
from wreckwright.record.types import Machine, Row
from wreckwright.record.where import Path

HANDLE_PREFIX = {
    "finished": "done",
    "findings": "f",
    "signs": "s",
    "remedies": "remedy",
    "parts": "p",
    "jobs": "j",
    "gates": "g",
    "readings": "r",
    "fastenings": "bolt",
    "proofs": "proof",
    "purse": "purse",
    "log": "log",
    "taps": "tap",
    "loose_ends": "loose",
    "errands": "errand",
    "batches": "batch",
}
"""List of the record -> what the handles of its rows begin with, where the owner gives none (f1, f2, ...)."""


def rule_faults(machine: Machine) -> Iterator[Fault]:
    """All broken rules of a record that has the right shape.

    >>> import msgspec
    >>> plain = {"nickname": "Sorrel", "machine_class": "naked", "year": 2019, "findings": [{"id": "f1"}]}
    >>> [fault.found for fault in rule_faults(msgspec.convert(plain, Machine))]
    ['a finding that says nothing']
    """
    for rule in _RULES:
        yield from rule(machine)


def _rows(machine: Machine) -> Iterator[tuple[Path, Row]]:
    for name in HANDLE_PREFIX:
        for index, row in enumerate(getattr(machine, name)):
            yield (name, index), row


def _handles(machine: Machine) -> Iterator[Fault]:
    first: dict[str, Path] = {}
    for path, row in _rows(machine):
        if row.id in first:
            where = first[row.id]
            yield Fault(
                path=(*path, "id"),
                found=f"the handle {shown(row.id)}, which {where[0]} row {int(where[1]) + 1} already has",
                allowed="each handle once in the whole record (rows without one get f1, f2, ... by their place)",
                do="give one of the two another id",
            )
        first.setdefault(row.id, path)


def _references(machine: Machine) -> Iterator[Fault]:
    jobs, parts = [job.id for job in machine.jobs], [part.id for part in machine.parts]
    for index, job in enumerate(machine.jobs):
        for at, handle in enumerate(job.after):
            if handle not in jobs:
                yield _unknown(("jobs", index, "after", at), handle, jobs, "job")
        for at, handle in enumerate(job.parts):
            if handle not in parts:
                yield _unknown(("jobs", index, "parts", at), handle, parts, "part line")
    batches = [batch.id for batch in machine.batches]
    for index, errand in enumerate(machine.errands):
        if errand.part and errand.part not in parts:
            yield _unknown(("errands", index, "part"), errand.part, parts, "part line")
        if errand.batch and errand.batch not in batches:
            yield _unknown(("errands", index, "batch"), errand.batch, batches, "batch")
    for index, line in enumerate(machine.purse):
        if line.pays and line.pays != "purchase" and line.pays not in parts:
            yield _unknown(("purse", index, "pays"), line.pays, ["purchase", *parts], "part line")


def _unknown(path: Path, handle: str, known: list[str], what: str) -> Fault:
    near = nearest(handle, known)
    a = "an" if what[0] in "aeiou" else "a"
    return Fault(
        path=path,
        found=f"{shown(handle)}, which is no handle of {a} {what}",
        allowed=one_of(known) if known else f"nothing, as long as there is no {what}",
        do=f"write {one_of(near)}" if near else f"write the id of {a} {what}, or take the entry out",
    )


def _stands_for(machine: Machine) -> Iterator[Fault]:
    """What concerns the record alone; names of the trade data are the business of `against_trade`."""
    handles = {
        "part": [part.id for part in machine.parts], "batch": [batch.id for batch in machine.batches],
        "errand": [errand.id for errand in machine.errands],
    }
    first: dict[str, int] = {}
    for index, job in enumerate(machine.jobs):
        key, path = job.stands_for, ("jobs", index, "stands_for")
        if not key:
            continue
        if first.setdefault(key, index) != index:
            yield Fault(
                path=path,
                found=f"{shown(key)}, for which jobs row {first[key] + 1} stands already",
                allowed="one row for each piece of work",
                do="write all that is known of it into one row",
            )
        head, _, rest = key.partition(":")
        if head == "job":
            yield Fault(
                path=path,
                found=f"{shown(key)}, an own job",
                allowed="a piece of work that was made from the trade data; a job of your own is its own row",
                do="write it into the row of that job, and take this one out",
            )
        elif head in handles and rest.partition(":")[0] not in handles[head]:
            yield _unknown(path, rest.partition(":")[0], handles[head], {"part": "part line"}.get(head, head))


def _batches_and_errands(machine: Machine) -> Iterator[Fault]:
    goes_with: dict[str, str] = {}
    for index, batch in enumerate(machine.batches):
        path: Path = ("batches", index)
        if batch.away_on and batch.state == "gathering":
            yield Fault(
                path=(*path, "away_on"),
                found=f"{batch.away_on}, of a batch that is still gathering",
                allowed="a day only where state is away or back",
                do='write state = "away", or leave the day out',
            )
        if machine.as_of and batch.away_on and batch.away_on > machine.as_of:
            yield Fault(
                path=(*path, "away_on"),
                found=f"{batch.away_on}, after as_of ({machine.as_of})",
                allowed="a day up to as_of",
                do="move as_of on, or set the state to gathering",
            )
        for at, component in enumerate(batch.components if batch.state != "back" else ()):
            if goes_with.setdefault(component, batch.id) != batch.id:
                yield Fault(
                    path=(*path, "components", at),
                    found=f"{shown(component)}, which goes with the batch {shown(goes_with[component])} already",
                    allowed="a component in one batch at a time",
                    do="take it out of one of the two",
                )
    for index, errand in enumerate(machine.errands):
        if errand.kind == "call" and errand.wants:
            yield Fault(
                path=("errands", index, "wants"),
                found=f"{', '.join(errand.wants)}, of a call",
                allowed="only a trip wants something of the machine",
                do='write kind = "trip", or take wants out',
            )


def _job_cycles(machine: Machine) -> Iterator[Fault]:
    before = {job.id: job.after for job in machine.jobs}
    state: dict[str, int] = {}
    for index, job in enumerate(machine.jobs):
        # Depth first without recursion: long chains are allowed. State 1 = on the current trail, 2 = finished.
        trail: list[tuple[str, Iterator[str]]] = []
        if job.id not in state:
            trail.append((job.id, iter(before[job.id])))
            state[job.id] = 1
        while trail:
            handle, rest = trail[-1]
            following = next((one for one in rest if one in before), None)
            if following is None:
                state[handle] = 2
                trail.pop()
            elif state.get(following) == 1:
                names = [one for one, _ in trail]
                circle = [*names[names.index(following) :], following]
                yield Fault(
                    path=("jobs", index, "after"),
                    found="a circle of jobs, each waiting for the next: " + " <- ".join(circle[:8]),
                    allowed="an order in which the jobs can be done",
                    do="take one of these out of `after`",
                )
                return
            elif following not in state:
                state[following] = 1
                trail.append((following, iter(before[following])))


def _bands(machine: Machine) -> Iterator[Fault]:
    allowed, do = "low <= likely <= high", "put the three figures in order"
    value, market_one = machine.market.sound_value, machine.market.sound_value_minor
    if value and not value.low_minor <= value.likely_minor <= value.high_minor:
        yield Fault(
            path=("market", "sound_value"),
            found=f"{value.low_minor}, {value.likely_minor}, {value.high_minor}",
            allowed=allowed,
            do=do,
        )
    for field, figure in (("sound_value", value and value.likely_minor), ("sound_value_minor", market_one)):
        if figure == 0:
            yield Fault(
                path=("market", field),
                found="0",
                allowed="what a straight one of the same kind fetches, above 0",
                do="write that sum, or leave the field out if it is not known",
            )
    if machine.owner.workshop_hour_minor == 0:
        yield Fault(
            path=("owner", "workshop_hour_minor"),
            found="0",
            allowed="what a paid workshop charges an hour, above 0: prices and fees are scaled by it",
            do="write that sum, or leave the field out if it is not known (hour_value_minor is that of your own hour)",
        )
    for index, job in enumerate(machine.jobs):
        band = job.minutes
        if band and band.likely == 0.0 < band.high:
            yield Fault(
                path=("jobs", index, "minutes"),
                found=f"{band.low:g}, {band.likely:g}, {band.high:g}: most likely no time at all",
                allowed="likely above 0, or 0 for all three",
                do="give the figure you would bet on as likely",
            )
        if band and not band.low <= band.likely <= band.high:
            yield Fault(
                path=("jobs", index, "minutes"),
                found=f"{band.low:g}, {band.likely:g}, {band.high:g}",
                allowed=allowed,
                do=do,
            )
    for index, reading in enumerate(machine.readings):
        low, high = reading.limit_low, reading.limit_high
        if low is not None and high is not None and low > high:
            yield Fault(
                path=("readings", index, "limit_low"),
                found=f"{low:g}, above limit_high {high:g}",
                allowed="limit_low <= limit_high",
                do="exchange the two limits",
            )
        if (reading.if_sound is None) != (reading.if_bad is None):
            yield Fault(
                path=("readings", index),
                found="only one of if_sound and if_bad",
                allowed="both or neither",
                do="add the other, or leave both out",
            )
    for index, entry in enumerate(machine.log):
        if entry.clip_from_s is not None and entry.clip_to_s is not None and entry.clip_from_s > entry.clip_to_s:
            yield Fault(
                path=("log", index, "clip_from_s"),
                found=f"{entry.clip_from_s:g}, after clip_to_s {entry.clip_to_s:g}",
                allowed="clip_from_s <= clip_to_s",
                do="exchange the two",
            )


def _calendar(machine: Machine) -> Iterator[Fault]:
    first: dict[dt.date, int] = {}
    for index, day in enumerate(machine.calendar.changed):
        if first.setdefault(day.date, index) != index:
            yield Fault(
                path=("calendar", "changed", index, "date"),
                found=f"{day.date}, of which row {first[day.date] + 1} speaks already",
                allowed="each day once",
                do="keep the row that holds",
            )
    week = machine.calendar.weekday_minutes
    if week is None:
        return
    for index, minutes in enumerate(week):
        if not 0 <= minutes <= 1440:
            yield Fault(
                path=("calendar", "weekday_minutes", index),
                found=shown(minutes),
                allowed="0 to 1440 minutes a day",
                do="write the minutes planned on that weekday",
            )
    if not any(week):
        yield Fault(
            path=("calendar", "weekday_minutes"),
            found="0 on every day",
            allowed="at least one day with work on it",
            do="write the minutes planned on at least one weekday, or leave the field out",
        )


def _dates(machine: Machine) -> Iterator[Fault]:
    today = machine.as_of
    for index, part in enumerate(machine.parts):
        if part.ordered_on and part.promised_on and part.promised_on < part.ordered_on:
            yield Fault(
                path=("parts", index, "promised_on"),
                found=f"{part.promised_on}, before it was ordered ({part.ordered_on})",
                allowed="a day on or after ordered_on",
                do="check both dates",
            )
        if today and part.ordered_on and part.ordered_on > today:
            yield Fault(
                path=("parts", index, "ordered_on"),
                found=f"{part.ordered_on}, after as_of ({today})",
                allowed="a day up to as_of",
                do="move as_of on, or set the state to wanted",
            )
    if today and machine.year > today.year + 1:
        yield Fault(
            path=("year",),
            found=f"{machine.year}, after as_of ({today})",
            allowed=f"up to {today.year + 1}",
            do="check year and as_of",
        )
    bought_on = machine.purchase.date
    if today and machine.purchase.bought and bought_on and bought_on > today:
        yield Fault(
            path=("purchase", "date"),
            found=f"{bought_on}, after as_of ({today}), of a machine already bought",
            allowed="a day up to as_of",
            do="move as_of on, or write bought = false",
        )


def _findings(machine: Machine) -> Iterator[Fault]:
    for index, finding in enumerate(machine.findings):
        if not (finding.what.strip() or finding.component or finding.zone or finding.side):
            yield Fault(
                path=("findings", index),
                found="a finding that says nothing",
                allowed="what (in plain words), component, zone or side",
                do='write what was seen, like what = "front rim dinged"',
            )
        elif not finding.looked_fine and not (finding.what.strip() or finding.component):
            yield Fault(
                path=("findings", index),
                found="a zone or side without a fault",
                allowed="what or component, or looked_fine = true",
                do="write what is wrong there, or looked_fine = true if all of it was looked at and sound",
            )
        if finding.looked_fine and finding.missing:
            yield Fault(
                path=("findings", index, "missing"),
                found="both missing and looked_fine",
                allowed="one of the two",
                do="take one out",
            )


def _gates(machine: Machine) -> Iterator[Fault]:
    first: dict[str, int] = {}
    for index, gate in enumerate(machine.gates):
        if gate.template and first.setdefault(gate.template, index) != index:
            yield Fault(
                path=("gates", index, "template"),
                found=f"{shown(gate.template)}, of which gates row {first[gate.template] + 1} speaks already",
                allowed="one row for each template",
                do="write all that is known of that question into one row",
            )
        if not gate.template and not (gate.question.strip() and gate.kind):
            yield Fault(
                path=("gates", index),
                found="a gate without template, and without question or kind",
                allowed="a template of the trade data, or a question and its kind (bench or outside)",
                do='write what is asked, like question = "Is the head straight?", and kind = "bench"',
            )


def _money(machine: Machine) -> Iterator[Fault]:
    for index, line in enumerate(machine.purse):
        if line.currency and line.currency != machine.currency:
            yield Fault(
                path=("purse", index, "currency"),
                found=shown(line.currency),
                allowed=f"{machine.currency}, the currency of the record",
                do="write the sum that left your account in that currency, and the foreign sum in what",
            )


_RULES: tuple[Callable[[Machine], Iterator[Fault]], ...] = (
    _handles,
    _references,
    _stands_for,
    _batches_and_errands,
    _job_cycles,
    _bands,
    _calendar,
    _dates,
    _findings,
    _gates,
    _money,
)


def with_handles(raw: dict[str, Any]) -> dict[str, Any]:
    """A plain record whose rows all have handles: those without get one by their place (f1, f2, ...).

    >>> with_handles({"parts": [{"name": "pump"}]})
    {'parts': [{'id': 'p1', 'name': 'pump'}]}
    """
    out = dict(raw)
    for name, prefix in HANDLE_PREFIX.items():
        rows = out.get(name)
        if isinstance(rows, list):
            out[name] = [
                {"id": f"{prefix}{index}", **row} if isinstance(row, dict) else row
                for index, row in enumerate(rows, start=1)
            ]
    return out
