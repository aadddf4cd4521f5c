"""Errands for the daytime: trips with the machine or for it, and calls with one question."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, get_args

from wreckwright.acts import entry
from wreckwright.acts.checks import check_row, trade_for
from wreckwright.acts.place import Place
from wreckwright.acts.sent import Sent
from wreckwright.acts.several import Several
from wreckwright.acts.writes import AS_IT_WAS, Told, drafted, edited, find_row, new_row, write
from wreckwright.errors import EntryError
from wreckwright.record.faults import one_of, shown
from wreckwright.record.types import ErrandKind, GateAnswer, Machine, Wanted

if TYPE_CHECKING:
    from wreckwright.store.read import Reader
    from wreckwright.store.types import Draft

WANTED_WORDS: dict[str, str] = {
    "rolls": "it rolls",
    "steers": "it steers",
    "number_readable": "its number can be read",
    "battery_up": "its battery is up",
}
"""What a trip may ask of the machine."""


@dataclass(frozen=True, kw_only=True)
class ErrandForm:
    """Typed texts. None: the form does not show this field. Empty: not known."""

    kind: str | None = None
    """`trip` or `call`"""
    words: str | None = None
    """Where to and what for; of a call: whom to ask what."""
    day: str | None = None
    wants: tuple[str, ...] | None = None
    gate: str | None = None
    """The question that it answers: id of the trade data, or the handle of a gate."""
    part: str | None = None
    """Handle of a part line that it is about."""
    batch: str | None = None
    """Handle of a batch that is brought or fetched."""


def note_errand(place: Place, uid: str, form: ErrandForm, sent: Sent) -> Told:
    """Write down an errand. Raises EntryError, NotThere."""
    fields = _fields(form)
    if not fields.get("words"):
        raise EntryError(
            "words: nothing", allowed="where to and what for, or whom to ask what", do="say it in a few words",
            field="words",
        )
    fields.setdefault("kind", "call")

    def draft(reader: Reader) -> Draft:
        _check_names(fields, reader.machine(uid))
        handle = reader.next_handle(uid, "errands")
        said = f"{_kind_words(str(fields['kind']))}: {fields['words']}"
        return drafted(uid, said, handle, [new_row(uid, "errands", handle, fields, sent)])

    return write(place, draft, sent)


def change_errand(place: Place, uid: str, handle: str, base_rev: int, form: ErrandForm, sent: Sent) -> Told:
    """Give an errand what the form says. Raises EntryError, NotThere, ConflictError."""
    from wreckwright.store.types import Put

    wanted = _fields(form)
    if "words" in wanted and not wanted["words"]:
        raise EntryError("words: nothing", allowed="a few words", do="say it in a few words", field="words")

    def draft(reader: Reader) -> Draft:
        row = find_row(reader, uid, "errands", handle)
        fields = edited(reader, row.key, base_rev, wanted)
        if not fields:
            return drafted(uid, AS_IT_WAS, handle, [])
        _check_names(fields, reader.machine(uid))
        said = f"Errand changed: {fields.get('words') or row.fields['words']}"
        return drafted(uid, said, handle, [Put(key=row.key, fields=fields, base_rev=base_rev)])

    return write(place, draft, sent)


def errand_done(
    place: Place, uid: str, handle: str, answer: str, sent: Sent, *, gate_answer: str = "", promised_on: str = ""
) -> Told:
    """It is done, and this was the answer, in words.

    `gate_answer`: what it says to the errand's question (`yes`, `no`, `way_round`), written down in the same change;
    `promised_on`: the day, as typed, on which the errand's part was promised. Raises EntryError, NotThere.
    """
    if gate_answer and gate_answer not in get_args(GateAnswer):
        raise EntryError(
            f"gate_answer: found {shown(gate_answer)}", allowed=one_of(get_args(GateAnswer)), do="choose one of these",
            field="gate_answer",
        )
    day = entry.day(promised_on, "promised_on")

    def draft(reader: Reader) -> Draft:
        row = find_row(reader, uid, "errands", handle)
        machine = reader.machine(uid)
        several = Several(reader, sent)
        several.put(uid, "errands", handle, {"done": True, "answer": answer.strip() or None})
        said = [f"Errand done: {row.fields['words']}"]
        if gate_answer:
            said.append(_answer_gate(several, uid, machine, str(row.fields.get("gate", "")), gate_answer))
        if day is not None:
            part = str(row.fields.get("part", ""))
            if not part:
                raise EntryError(
                    "promised_on: this errand is about no part", allowed="a day, for an errand about a part",
                    do="leave it out", field="promised_on",
                )
            find_row(reader, uid, "parts", part)
            several.put(uid, "parts", part, {"promised_on": day.isoformat()})
            said.append(f"promised for {day}")
        first = answer.strip().splitlines()[0][:80] if answer.strip() else ""
        return drafted(uid, "; ".join([*said, *([first] if first else [])]), handle, several.writes())

    return write(place, draft, sent)


def _answer_gate(several: Several, uid: str, machine: Machine, gate: str, answer: str) -> str:
    if not gate:
        raise EntryError(
            "gate_answer: this errand is about no question", allowed="an answer, for an errand about a question",
            do="leave it out", field="gate_answer",
        )
    row = next((one for one in machine.gates if gate in (one.id, one.template)), None)
    wanted = None if answer == "unasked" else answer
    if row is not None:
        several.put(uid, "gates", row.id, {"answer": wanted})
    else:
        several.new(uid, "gates", {"template": gate, "answer": wanted})
    return f"the question is answered: {answer.replace('_', ' ')}"


def _fields(form: ErrandForm) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    for name in ("words", "gate", "part", "batch"):
        text = getattr(form, name)
        if text is not None:
            fields[name] = " ".join(text.split()) or None
    if form.kind is not None:
        if form.kind not in get_args(ErrandKind):
            raise EntryError(
                f"kind: found {shown(form.kind)}", allowed=one_of(get_args(ErrandKind)), do="choose one of these",
                field="kind",
            )
        fields["kind"] = form.kind
    if form.day is not None:
        day = entry.day(form.day, "day")
        fields["day"] = day.isoformat() if day else None
    if form.wants is not None:
        wants = list(dict.fromkeys(filter(None, form.wants)))
        unknown = [one for one in wants if one not in get_args(Wanted)]
        if unknown:
            raise EntryError(
                f"wants: found {shown(unknown[0])}", allowed=one_of(get_args(Wanted)), do="choose one of these",
                field="wants",
            )
        # What was ticked for a trip before it was called a call wants nothing of the machine any more.
        fields["wants"] = None if form.kind == "call" else wants or None
    check_row("errands", fields)
    return fields


def _check_names(fields: Mapping[str, Any], machine: Machine) -> None:
    """Raises EntryError for a gate, part or batch that is not there."""
    gates = {*trade_for(machine).gates, *(one.id for one in machine.gates)}
    known = {
        "gate": (gates, "a question"), "part": ({one.id for one in machine.parts}, "a part line"),
        "batch": ({one.id for one in machine.batches}, "a batch"),
    }
    for name, (names, what) in known.items():
        value = fields.get(name)
        if value and value not in names:
            raise EntryError(
                f"{name}: {shown(str(value))} is not the name of {what}",
                allowed=one_of(sorted(names)) if names else f"nothing: there is no {what.partition(' ')[2]}",
                do="choose one from the list, or leave it out", field=name,
            )


def _kind_words(kind: str) -> str:
    return "To be driven to" if kind == "trip" else "To be asked"
