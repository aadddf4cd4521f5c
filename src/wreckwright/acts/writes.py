"""Changes of a machine in the memory: each is one change in the journal, and the same sending counts once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from wreckwright.acts.checks import check_machine, check_row, trade_data, trade_for
from wreckwright.acts.facts import Facts, fact_rows, facts_of
from wreckwright.acts.finding_form import FindingForm, check_finding, finding_fields, finding_words
from wreckwright.acts.place import Place, memory, open_memory
from wreckwright.acts.sent import Sent
from wreckwright.errors import EntryError, NotThere
from wreckwright.record.faults import one_of, shown
from wreckwright.record.rules import HANDLE_PREFIX
from wreckwright.record.types import Machine

if TYPE_CHECKING:
    from wreckwright.store.read import Reader
    from wreckwright.store.types import Draft, Outcome, Put, Remove, RowKey, StoredRow

__all__ = [
    "Facts",
    "FindingForm",
    "Told",
    "change_facts",
    "change_finding",
    "facts_of",
    "note_finding",
    "remove_row",
    "rest_fine",
    "tap",
    "undo_change",
]

TAPS = {
    "done": "Done",
    "snag": "Snag",
    "arrived": "Arrived",
    "left_loose": "Left loose",
    "bag": "Bag",
}
"""The five taps, and how each begins in the journal."""
ROW_WORDS = {
    "finished": "finished machine",
    "findings": "finding",
    "signs": "sign",
    "remedies": "remedy",
    "parts": "part line",
    "jobs": "job",
    "gates": "gate",
    "readings": "reading",
    "fastenings": "fastening",
    "proofs": "proof",
    "purse": "line of the purse",
    "log": "log entry",
    "taps": "tap",
    "loose_ends": "loose end",
    "errands": "errand",
    "batches": "batch",
}
AS_IT_WAS = "Nothing to change: it stands like that already"
_TOGETHER = (
    ("missing", "looked_fine"),
    ("what", "component", "side", "zone"),
    ("sound_value", "sound_value_minor"),
)
"""Fields that say one thing together: who edits one of them means all of them."""


@dataclass(frozen=True, kw_only=True)
class Told:
    """What came of it."""

    uid: str
    change_id: str | None
    """None: everything was already as wanted; there is nothing to take back."""
    said: str
    """One sentence, without a full stop."""
    handle: str = ""
    """Of the row that was written, if it was one."""
    replayed: bool = False
    """True: this was sent before and carried out then; nothing was written now."""


def note_finding(place: Place, uid: str, form: FindingForm, sent: Sent) -> Told:
    """Write down one finding. Raises EntryError (words that are not understood), NotThere."""
    fields = finding_fields(form)
    check_photos(place, form.photos or ())

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        handle = reader.next_handle(uid, "findings")
        finding = check_finding(fields, machine)
        said = f"Noted: {finding_words(finding, machine)}"
        return drafted(uid, said, handle, [new_row(uid, "findings", handle, fields, sent)])

    return write(place, draft, sent)


def change_finding(place: Place, uid: str, handle: str, base_rev: int, form: FindingForm, sent: Sent) -> Told:
    """Give a finding what the form says; what the form does not show stays as it is.

    Raises EntryError, NotThere, and ConflictError if a field that was edited here was changed meanwhile.
    """
    from wreckwright.store.types import Put

    wanted = finding_fields(form)
    check_photos(place, form.photos or ())

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        row = find_row(reader, uid, "findings", handle)
        fields = edited(reader, row.key, base_rev, wanted)
        finding = check_finding({**row.fields, **fields}, machine)
        if not fields:
            return drafted(uid, AS_IT_WAS, handle, [])
        said = f"Changed the finding: {finding_words(finding, machine)}"
        return drafted(uid, said, handle, [Put(key=row.key, fields=fields, base_rev=base_rev)])

    return write(place, draft, sent)


def remove_row(place: Place, uid: str, kind: str, handle: str, base_rev: int, sent: Sent) -> Told:
    """Take one row away. Raises NotThere, ConflictError (it was changed meanwhile), RecordError (others need it)."""
    from wreckwright.store.types import Remove

    if kind not in HANDLE_PREFIX:
        raise NotThere(
            f"there is no list {shown(kind)} in a record", allowed=one_of(HANDLE_PREFIX), do="name one of these"
        )

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        row = find_row(reader, uid, kind, handle)
        said = f"Taken away: {row_words(kind, handle, machine)}"
        return drafted(uid, said, handle, [Remove(key=row.key, base_rev=base_rev)])

    return write(place, draft, sent)


def rest_fine(place: Place, uid: str, station: str, sent: Sent) -> Told:
    """Whatever else is seen from this station was looked at and is fine. Said twice it counts once."""

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        seen_from = trade_for(machine).stations.get(station)
        if seen_from is None:
            raise NotThere(
                f"there is no station {shown(station)} of the walk-round",
                allowed=one_of(trade_for(machine).stations),
                do="choose one of these",
            )
        before = next((one for one in machine.findings if _whole_station(one.zone, one) and one.zone == station), None)
        if before is not None:
            return drafted(uid, f"{seen_from.name}: the rest was noted as fine before", before.id, [])
        handle = reader.next_handle(uid, "findings")
        row = new_row(uid, "findings", handle, {"zone": station, "looked_fine": True}, sent)
        return drafted(uid, f"{seen_from.name}: the rest is fine", handle, [row])

    return write(place, draft, sent)


def tap(place: Place, uid: str, what: str, note: str, photos: tuple[str, ...], sent: Sent) -> Told:
    """One tap in the garage, to be sorted out later. Raises EntryError, NotThere (a photograph that was not kept)."""
    if what not in TAPS:
        raise EntryError(f"what: found {shown(what)}", allowed=one_of(TAPS), do="tap one of the five", field="what")
    check_photos(place, photos)
    fields = {"what": what, "note": note.strip() or None, "photos": list(dict.fromkeys(photos)) or None}
    check_row("taps", fields)

    def draft(reader: Reader) -> Draft:
        reader.head(uid)
        handle = reader.next_handle(uid, "taps")
        return drafted(uid, tap_words(what, note, len(photos)), handle, [new_row(uid, "taps", handle, fields, sent)])

    return write(place, draft, sent)


def change_facts(place: Place, uid: str, base_revs: Mapping[str, int], facts: Facts, sent: Sent) -> Told:
    """What is known of the machine as a whole, as typed. `base_revs`: kind of row -> revision that the form shows.

    Raises EntryError that names the field, ConflictError.
    """
    from wreckwright.store.types import Put, RowKey

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        writes = []
        names: list[str] = []
        for kind, wanted in fact_rows(facts, trade_for(machine), machine).items():
            key = RowKey(machine=uid, kind=kind, handle=kind)
            base_rev = base_revs.get(kind, 0)
            fields = edited(reader, key, base_rev, wanted)
            if fields:
                writes.append(Put(key=key, fields=fields, base_rev=base_rev))
                names += [name.removesuffix("_minor").replace("_", " ") for name in fields]
        if not writes:
            return drafted(uid, AS_IT_WAS, "", [])
        return drafted(uid, f"What is known changed: {', '.join(dict.fromkeys(names))}", "", writes)

    return write(place, draft, sent)


def undo_change(place: Place, change_id: str, sent: Sent) -> Told:
    """Take a change back, as a new change. Raises NotThere, and ConflictError if its rows were changed since."""
    from wreckwright.store.undo import undo

    store = memory(place)

    def before() -> list[Machine]:
        with store.reading() as reader:
            line = reader.change(change_id)
            return [reader.machine(head.uid) for head in reader.machines() if line and head.uid in line.machines]

    outcome = undo(
        store,
        change_id=change_id,
        who=sent.who,
        at=sent.moment,
        check=check_machine(trade_data(), before=before),
        operation=sent.operation(),
    )
    with store.reading() as reader:
        line = reader.change(outcome.change_id or change_id)
    assert line is not None
    return Told(
        uid=line.machines[0] if line.machines else "",
        change_id=outcome.change_id,
        said=line.what,
        replayed=outcome.replayed,
    )


# What the use cases of this room share. -----------------------------------------------------------------------------


def write(place: Place, draft: Callable[[Reader], Draft], sent: Sent, *, begins: bool = False) -> Told:
    """Carry a draft out; `begins`: it may be the first thing in the memory, which is made then.

    Raises what the draft raises, RecordError, NicknameTaken, ConflictError, OperationError, NotThere, StoreError.
    """
    from wreckwright.store.apply import apply

    touched: list[tuple[Reader, set[str]]] = []

    def watched(reader: Reader) -> Draft:
        made = draft(reader)
        touched.append((reader, {one.key.machine for one in made.writes}))
        return replace(made, writes=tuple(_over(one, sent) for one in made.writes)) if sent.over else made

    def before() -> list[Machine]:
        # Asked for only if something is wrong, and before anything is written.
        return [reader.machine(one.uid) for reader, uids in touched for one in reader.machines() if one.uid in uids]

    outcome = apply(
        open_memory(place) if begins else memory(place),
        who=sent.who,
        at=sent.moment,
        draft=watched,
        check=check_machine(trade_data(), before=before),
        operation=sent.operation(),
    )
    return told(outcome)


def _over(one: Put | Remove, sent: Sent) -> Put | Remove:
    return replace(one, base_rev=sent.over.get((one.key.kind, one.key.handle), one.base_rev))


def told(outcome: Outcome) -> Told:
    result = outcome.result
    return Told(
        uid=str(result["uid"]),
        change_id=outcome.change_id,
        said=str(result["said"]),
        handle=str(result["handle"]),
        replayed=outcome.replayed,
    )


def drafted(uid: str, said: str, handle: str, writes: Iterable[Any]) -> Draft:
    from wreckwright.store.types import Draft

    return Draft(what=said, writes=tuple(writes), result={"uid": uid, "said": said, "handle": handle})


def new_row(uid: str, kind: str, handle: str, fields: Mapping[str, Any], sent: Sent) -> Any:
    """A row that was not there before, signed with who and when."""
    from wreckwright.store.types import Put, RowKey

    plain = {name: value for name, value in fields.items() if value is not None}
    return Put(
        key=RowKey(machine=uid, kind=kind, handle=handle),
        fields={"id": handle} | sent.signature() | plain,
        base_rev=0,
    )


def find_row(reader: Reader, uid: str, kind: str, handle: str) -> StoredRow:
    """Raises NotThere."""
    from wreckwright.store.types import RowKey

    row = reader.row(RowKey(machine=uid, kind=kind, handle=handle))
    if row is None:
        raise NotThere(
            f"there is no {ROW_WORDS[kind]} {shown(handle)} of {reader.head(uid).nickname}",
            allowed=f"the handle of a {ROW_WORDS[kind]} that is there",
            do="look at the page again: it may have been taken away meanwhile",
        )
    return row


def edited(reader: Reader, key: RowKey, base_rev: int, fields: Mapping[str, Any]) -> dict[str, Any]:
    """Those of `fields` that differ from what the writer saw, who sends all fields of a form, edited or not."""
    from wreckwright.store.rows import same

    seen: Mapping[str, Any] | None = {}
    if base_rev:
        seen = next((image.after for image, _ in reader.history(key) if image.rev == base_rev), None)
    if seen is None:
        # A revision that never was, or at which there was no row: the store decides.
        return dict(fields)
    changed = {name for name, value in fields.items() if not same(value, seen.get(name))}
    for group in _TOGETHER:
        if changed.intersection(group):
            changed.update(group)
    return {name: value for name, value in fields.items() if name in changed}


def check_photos(place: Place, photos: Iterable[str]) -> None:
    """Raises NotThere for a photograph that is not kept here."""
    from wreckwright.store.photos import photo_path

    for sha in photos:
        photo_path(place.photos, sha)


def tap_words(what: str, note: str, photos: int) -> str:
    """
    >>> tap_words("snag", " rear brake drags ", 2), tap_words("bag", "", 0)
    ('Snag: rear brake drags (2 photographs)', 'Bag')
    """
    first = note.strip().splitlines()[0].strip() if note.strip() else ""
    shown_note = first if len(first) <= 80 else first[:77] + "..."
    pictures = f" ({photos} photograph{'' if photos == 1 else 's'})" if photos else ""
    return f"{TAPS[what]}{f': {shown_note}' if shown_note else ''}{pictures}"


def row_words(kind: str, handle: str, machine: Machine) -> str:
    """A row of a record in a few words."""
    row = next((one for one in getattr(machine, kind) if one.id == handle), None)
    if row is None:
        return f"{ROW_WORDS[kind]} {handle}"
    if kind == "findings":
        words = finding_words(row, machine)
    elif kind == "taps":
        words = tap_words(row.what, row.note, len(row.photos))
    else:
        named = ("name", "question", "what", "sign", "where", "item", "component", "template", "note")
        words = next((str(getattr(row, name)) for name in named if getattr(row, name, "")), handle)
    return f"{ROW_WORDS[kind]}, {words}" if words != handle else f"{ROW_WORDS[kind]} {handle}"


def _whole_station(zone: str, finding: Any) -> bool:
    return bool(zone and finding.looked_fine and not (finding.what or finding.component or finding.side))
