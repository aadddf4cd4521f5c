"""A job as typed into a form: the owner's own, or what the owner changes in one that the plan has made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, get_args

from wreckwright.acts import entry
from wreckwright.acts.checks import check_row, trade_for
from wreckwright.acts.place import Place
from wreckwright.acts.plan_shapes import JobTyped
from wreckwright.acts.sent import Sent
from wreckwright.acts.work_key import Work, bench_work
from wreckwright.acts.writes import AS_IT_WAS, Told, drafted, edited, new_row, write
from wreckwright.errors import EntryError
from wreckwright.record.faults import nearest, one_of, shown
from wreckwright.record.types import Job, JobKind, Machine
from wreckwright.trade.types import Trade

if TYPE_CHECKING:
    from wreckwright.store.read import Reader
    from wreckwright.store.types import Draft

LINES = ("tools", "supports", "keep", "renew", "steps")
"""Fields with one thing a line."""
_MOST_LINES = 200
_SPREAD_LOW, _SPREAD_HIGH = 0.64, 1.57
"""Of the likely time, where only that is given: 1 in 10 below, 1 in 10 above, as for jobs of the trade (judgement)."""


@dataclass(frozen=True, kw_only=True)
class JobForm:
    """Typed texts. None: the form does not show this field, and it stays as it is. Empty: as the trade data say."""

    name: str | None = None
    kind: str | None = None
    component: str | None = None
    minutes: str | None = None
    """Likely, for all of it."""
    minutes_low: str | None = None
    """With `minutes_high`: how far it may be off; both or neither."""
    minutes_high: str | None = None
    done_minutes: str | None = None
    cost: str | None = None
    covers: tuple[str, ...] | None = None
    after: tuple[str, ...] | None = None
    """Handles of jobs."""
    parts: tuple[str, ...] | None = None
    """Handles of part lines."""
    before_gate: str | None = None
    cure_days: str | None = None
    may_split: str | None = None
    """`yes`, `no` or empty; so is `helper`."""
    helper: str | None = None
    tools: str | None = None
    supports: str | None = None
    keep: str | None = None
    renew: str | None = None
    steps: str | None = None
    film: str | None = None


def new_job(place: Place, uid: str, form: JobForm, sent: Sent) -> Told:
    """Write down an own job. Raises EntryError, NotThere, RecordError."""

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        fields = job_fields(form, machine, trade_for(machine), None)
        if not fields.get("name"):
            raise EntryError("name: nothing", allowed="what is done, in a few words", do="name it", field="name")
        handle = reader.next_handle(uid, "jobs")
        return drafted(uid, f"New job: {fields['name']}", handle, [new_row(uid, "jobs", handle, fields, sent)])

    return write(place, draft, sent)


def change_job(place: Place, uid: str, key: str, base_rev: int, form: JobForm, sent: Sent) -> Told:
    """Give a piece of work what the form says. `base_rev`: revision of the row that stands for it; 0: there was none.

    Raises EntryError, NotThere, RecordError (a circle of jobs), and ConflictError if it was changed meanwhile.
    """
    from wreckwright.store.types import Put, RowKey

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        trade = trade_for(machine)
        work = bench_work(key, machine, trade)
        wanted = job_fields(form, machine, trade, work.job)
        if work.job is None:
            return _first_touch(reader, uid, work, wanted, sent)
        row_key = RowKey(machine=uid, kind="jobs", handle=work.job.id)
        # Of a form that was shown before anybody touched the job, whatever is typed was edited.
        fields = edited(reader, row_key, base_rev, wanted)
        if "name" in fields and not fields["name"]:
            raise EntryError("name: nothing", allowed="what is done, in a few words", do="name it", field="name")
        if not fields:
            return drafted(uid, AS_IT_WAS, work.job.id, [])
        stored = reader.row(row_key)
        rev = base_rev or (stored.rev if stored else 0)
        said = f"Job changed: {fields.get('name') or work.name} ({_names(fields)})"
        return drafted(uid, said, work.job.id, [Put(key=row_key, fields=fields, base_rev=rev)])

    return write(place, draft, sent)


def _first_touch(reader: Reader, uid: str, work: Work, wanted: Mapping[str, Any], sent: Sent) -> Draft:
    fields = {name: value for name, value in wanted.items() if value is not None}
    if fields.get("name") == work.name:
        del fields["name"]
    if not fields:
        return drafted(uid, AS_IT_WAS, "", [])
    handle = reader.next_handle(uid, "jobs")
    component = work.component if work.what == "main" else None
    base = {"name": work.name, "kind": work.kind, "stands_for": work.key, "component": component}
    said = f"Job changed: {fields.get('name') or work.name} ({_names(fields)})"
    return drafted(uid, said, handle, [new_row(uid, "jobs", handle, base | fields, sent)])


def job_typed(job: Job | None, currency: str) -> JobTyped:
    """What stands in a row, as it is typed; read back by `job_fields` it changes nothing."""
    if job is None:
        return JobTyped()
    band = job.minutes
    even = band is not None and band.low == band.likely == band.high

    def flag(value: bool | None) -> str:
        return "" if value is None else "yes" if value else "no"

    return JobTyped(
        name=job.name, kind=job.kind, component=job.component,
        minutes=entry.number_text(band.likely) if band else "",
        minutes_low=entry.number_text(band.low) if band and not even else "",
        minutes_high=entry.number_text(band.high) if band and not even else "",
        done_minutes=entry.number_text(job.done_minutes),
        cost=entry.money_text(job.cost_minor, currency) if job.cost_minor else "",
        covers=job.covers, after=job.after, parts=job.parts, before_gate=job.before_gate,
        cure_days="" if job.cure_days is None else str(job.cure_days), may_split=flag(job.may_split),
        helper=flag(job.helper), film=job.film,
        **{name: "\n".join(getattr(job, name)) for name in LINES},
    )


def job_fields(form: JobForm, machine: Machine, trade: Trade, job: Job | None) -> dict[str, Any]:
    """The fields of the row that the form speaks of; None for those that are to be absent. Raises EntryError."""
    fields: dict[str, Any] = {}
    if form.name is not None:
        fields["name"] = " ".join(form.name.split()) or None
    if form.film is not None:
        fields["film"] = form.film.strip() or None
    if form.kind is not None:
        if form.kind and form.kind not in get_args(JobKind):
            raise EntryError(
                f"kind: found {shown(form.kind)}", allowed=one_of(get_args(JobKind)), do="choose one of these",
                field="kind",
            )
        fields["kind"] = form.kind or None
    fields |= _minutes(form, job)
    if form.cost is not None:
        fields["cost_minor"] = entry.money_minor(form.cost, machine.currency, "cost")
    if form.cure_days is not None:
        fields["cure_days"] = entry.whole(form.cure_days, "cure_days", most=365, unit="days")
    for name in ("may_split", "helper"):
        text = getattr(form, name)
        if text is not None:
            fields[name] = _flag(text, name)
    for name in LINES:
        text = getattr(form, name)
        if text is not None:
            fields[name] = _lines(text, name)
    fields |= _named_things(form, machine, trade)
    check_row("jobs", fields)
    return fields


def _minutes(form: JobForm, job: Job | None) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    if form.done_minutes is not None:
        fields["done_minutes"] = entry.number(form.done_minutes, "done_minutes", most=100_000)
    if form.minutes is None:
        return fields
    likely = entry.number(form.minutes, "minutes", most=100_000)
    low = entry.number(form.minutes_low or "", "minutes_low", most=100_000)
    high = entry.number(form.minutes_high or "", "minutes_high", most=100_000)
    if (low is None) != (high is None) or (likely is None and low is not None):
        field = "minutes" if likely is None else "minutes_low" if low is None else "minutes_high"
        raise EntryError(
            f"{field}: nothing, and the others of the three are given",
            allowed="low, likely and high, or the likely figure alone", do="fill it in, or empty the low and high one",
            field=field,
        )
    if likely is None:
        return fields | {"minutes": None}
    if likely == 0 and not high:
        return fields | {"minutes": {"low": 0.0, "likely": 0.0, "high": 0.0}}
    if low is None or high is None:
        now = job.minutes if job else None
        if now is not None and now.likely == likely and form.minutes_low is None:
            return fields
        low, high = round(likely * _SPREAD_LOW, 1), round(likely * _SPREAD_HIGH, 1)
    if not low <= likely <= high or likely == 0:
        raise EntryError(
            f"minutes: {low:g}, {likely:g}, {high:g}", allowed="low, likely and high in this order, likely above 0",
            do="put the three figures in order", field="minutes",
        )
    return fields | {"minutes": {"low": low, "likely": likely, "high": high}}


def _named_things(form: JobForm, machine: Machine, trade: Trade) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    gates = {*trade.gates, *(one.id for one in machine.gates)}
    known: dict[str, tuple[set[str], str]] = {
        "covers": (set(trade.covers), "cover"),
        "after": ({one.id for one in machine.jobs}, "job"),
        "parts": ({one.id for one in machine.parts}, "part line"),
        "component": (set(trade.components), "component"),
        "before_gate": (gates, "question"),
    }
    for name, (names, what) in known.items():
        value = getattr(form, name)
        if value is None:
            continue
        chosen = list(dict.fromkeys(filter(None, (value,) if isinstance(value, str) else value)))
        for one in chosen:
            if one not in names:
                near = nearest(one, names)
                raise EntryError(
                    f"{name}: {shown(one)} is no {what}",
                    allowed=one_of(sorted(names)) if names else f"nothing: there is no {what}",
                    do=f"choose {one_of(near)}" if near else "choose from the list", field=name,
                )
        fields[name] = (chosen[0] if chosen else None) if isinstance(value, str) else chosen or None
    return fields


def _flag(text: str, field: str) -> bool | None:
    if text not in ("", "yes", "no"):
        raise EntryError(
            f"{field}: found {shown(text)}", allowed="yes, no, or nothing: as the trade data say", do="choose one",
            field=field,
        )
    return {"": None, "yes": True, "no": False}[text]


def _lines(text: str, field: str) -> list[str] | None:
    lines = [line for line in (" ".join(one.split()) for one in text.splitlines()) if line]
    if len(lines) > _MOST_LINES:
        raise EntryError(
            f"{field}: {len(lines)} lines", allowed=f"up to {_MOST_LINES}", do="write less", field=field
        )
    return lines or None


def _names(fields: Mapping[str, Any]) -> str:
    return ", ".join(name.removesuffix("_minor").replace("_", " ") for name in fields)
