"""Work done elsewhere for several parts at once: paint, plating, welding, machining."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, get_args

from wreckwright.acts import entry
from wreckwright.acts.checks import check_row, day_of, trade_for
from wreckwright.acts.finding_form import component_words
from wreckwright.acts.place import Place
from wreckwright.acts.sent import Sent
from wreckwright.acts.several import Several, day_told
from wreckwright.acts.writes import AS_IT_WAS, Told, drafted, edited, find_row, new_row, write
from wreckwright.errors import EntryError
from wreckwright.record.faults import nearest, one_of, shown
from wreckwright.record.types import BatchState, Machine

if TYPE_CHECKING:
    from wreckwright.store.read import Reader
    from wreckwright.store.types import Draft

STATE_WORDS: dict[str, str] = {"gathering": "being gathered", "away": "away", "back": "back"}


@dataclass(frozen=True, kw_only=True)
class BatchForm:
    """Typed texts. None: the form does not show this field. Empty: not known."""

    name: str | None = None
    components: tuple[str, ...] | None = None
    """Ids of the components that go along."""
    done_by: str | None = None
    price: str | None = None
    """For all of it."""
    minimum: str | None = None
    """Charged at least."""
    days: str | None = None
    """Away for so many."""
    colour: str | None = None


def note_batch(place: Place, uid: str, form: BatchForm, sent: Sent) -> Told:
    """Begin to gather a batch. Raises EntryError, NotThere."""

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        fields = _fields(form, machine)
        if not fields.get("name"):
            raise EntryError(
                "name: nothing", allowed="what is done to the parts, such as `black paint`", do="name it",
                field="name",
            )
        handle = reader.next_handle(uid, "batches")
        said = f"Gathered for work elsewhere: {fields['name']}{_of(fields.get('components') or [], machine)}"
        return drafted(uid, said, handle, [new_row(uid, "batches", handle, fields, sent)])

    return write(place, draft, sent)


def change_batch(place: Place, uid: str, handle: str, base_rev: int, form: BatchForm, sent: Sent) -> Told:
    """Give a batch what the form says. Raises EntryError, NotThere, ConflictError."""
    from wreckwright.store.types import Put

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        row = find_row(reader, uid, "batches", handle)
        wanted = _fields(form, machine)
        if "name" in wanted and not wanted["name"]:
            raise EntryError("name: nothing", allowed="what is done to the parts", do="name it", field="name")
        fields = edited(reader, row.key, base_rev, wanted)
        if not fields:
            return drafted(uid, AS_IT_WAS, handle, [])
        said = f"Work elsewhere changed: {fields.get('name') or row.fields['name']}"
        return drafted(uid, said, handle, [Put(key=row.key, fields=fields, base_rev=base_rev)])

    return write(place, draft, sent)


def batch_state(place: Place, uid: str, handle: str, state: str, sent: Sent, *, day: str = "") -> Told:
    """It is `gathering`, `away` or `back`. `day`: as typed, when it went; empty: on the day it was told.

    Raises EntryError, NotThere.
    """
    if state not in get_args(BatchState):
        raise EntryError(
            f"state: found {shown(state)}", allowed=one_of(get_args(BatchState)), do="choose one of these",
            field="state",
        )
    went = entry.day(day, "day")

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        row = find_row(reader, uid, "batches", handle)
        name = row.fields["name"]
        if row.fields.get("state", "gathering") == state and went is None:
            return drafted(uid, f"{name}: {STATE_WORDS[state]} before", handle, [])
        fields: dict[str, Any] = {"state": None if state == "gathering" else state}
        if state == "away":
            fields["away_on"] = (went or day_of(machine, today=lambda: day_told(sent))).isoformat()
        elif state == "gathering":
            fields["away_on"] = None
        several = Several(reader, sent)
        several.put(uid, "batches", handle, fields)
        return drafted(uid, f"{name}: {STATE_WORDS[state]}", handle, several.writes())

    return write(place, draft, sent)


def _fields(form: BatchForm, machine: Machine) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    for name in ("name", "done_by", "colour"):
        text = getattr(form, name)
        if text is not None:
            fields[name] = " ".join(text.split()) or None
    for name in ("price", "minimum"):
        text = getattr(form, name)
        if text is not None:
            fields[f"{name}_minor"] = entry.money_minor(text, machine.currency, name)
    if form.days is not None:
        fields["days"] = entry.number(form.days, "days", most=10_000)
    if form.components is not None:
        trade = trade_for(machine)
        chosen = list(dict.fromkeys(filter(None, form.components)))
        for one in chosen:
            if one not in trade.components:
                near = nearest(one, trade.components)
                raise EntryError(
                    f"components: {shown(one)} is no component of the trade data", allowed="components by their ids",
                    do=f"choose {one_of(near)}" if near else "choose from the list", field="components",
                )
        fields["components"] = chosen or None
    check_row("batches", fields)
    return fields


def _of(components: list[str], machine: Machine) -> str:
    trade = trade_for(machine)
    names = [component_words(one, machine, trade) for one in components]
    return f" ({', '.join(names)})" if names else ""
