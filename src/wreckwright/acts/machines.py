"""Machines in the memory: taking in a record file, writing one, beginning a new one, listing them."""

from __future__ import annotations

import hashlib
import os
import re
import secrets
from collections.abc import Collection
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import TYPE_CHECKING, Any

import msgspec
from msgspec.structs import replace

from wreckwright.acts.checks import check_row, day_of, trade_data
from wreckwright.acts.diff import least_writes
from wreckwright.acts.facts import Facts, class_id, fact_rows
from wreckwright.acts.files import open_checked, write_record
from wreckwright.acts.find import find_machine
from wreckwright.acts.place import Place, memory_if_any
from wreckwright.acts.sent import Sent
from wreckwright.acts.writes import Told, check_photos, drafted, row_words, write
from wreckwright.errors import EntryError, NotThere, UsageError
from wreckwright.record.file import to_toml
from wreckwright.record.types import LogEntry, Machine

if TYPE_CHECKING:
    from wreckwright.store.read import Reader
    from wreckwright.store.types import Draft, MachineHead, Put, Remove

MOST_PHOTOGRAPHS = 8
"""A new machine is begun with at most as many; more are added later."""
FIRST_LOOK = "first look"
_MOST_NAMED = 5
"""Of the rows that a file takes away; the journal has them all."""
_UID_BYTES = 8
_PLAIN_UID = re.compile(r"[0-9A-Za-z][0-9A-Za-z_-]{0,63}")


@dataclass(frozen=True, kw_only=True)
class Loaded:
    """What came of taking in a file."""

    uid: str
    nickname: str
    change_id: str | None
    """None: what is in the memory says the same already."""
    said: str
    replayed: bool
    photographs_missing: int
    """Photographs that the record names and that are not in the data folder."""


@dataclass(frozen=True, kw_only=True)
class NewMachine:
    """The least that is asked of a new machine; typed texts. Empty: not known."""

    machine_class: str
    year: str
    price: str = ""
    bought: bool = False
    sound_value: str = ""
    """What a straight one of the same kind fetches."""
    what_hit: tuple[str, ...] = ()
    seen_in: str = ""
    """How well it has been looked at, as in a record: `photographs`, `walk_round`, ..."""
    photographs: tuple[str, ...] = ()
    """Kept already, by their SHA-256; at most `MOST_PHOTOGRAPHS`."""
    key_starts_it: str = ""
    turns_over: str = ""
    papers_right: str = ""
    nickname: str = ""
    """Empty: one is proposed that no machine ever had here."""
    currency: str = ""
    maker_and_model: str = ""


def machines(place: Place) -> tuple[MachineHead, ...]:
    """All machines in the memory, in the owner's order; none if there is no memory."""
    store = memory_if_any(place)
    if store is None:
        return ()
    with store.reading() as reader:
        return reader.machines()


def load_record(
    place: Place, path: str | os.PathLike[str], *, update: bool = False, nickname: str = "", sent: Sent
) -> Loaded:
    """Take a record file into the memory, as one change. The file is only read.

    A machine that is known already, by the file's `uid` or by its nickname, needs a word: `update` makes its rows those
    of the file, `nickname` takes the file in as another machine of that name.
    Raises RecordError (with the lines of the file), UsageError, NicknameTaken, StoreError.
    """
    if update and nickname:
        raise UsageError(
            "both --update and --as are given",
            allowed="one of the two",
            do="--update changes the machine that is there, --as takes the file in as another one",
        )
    # Before the memory is made, so that a file that is refused leaves nothing behind.
    machine = open_checked(path, trade_data())
    if nickname.strip():
        machine = replace(machine, nickname=nickname.strip())
        check_row("machine", {"nickname": machine.nickname})
    fresh_uid = secrets.token_hex(_UID_BYTES)

    def draft(reader: Reader) -> Draft:
        from wreckwright.store.rows import rows_of

        heads = {head.uid: head for head in reader.machines()}
        wanted = machine
        if nickname.strip():
            if identity_of(wanted) in heads:
                # Another machine than the one that has this identity.
                wanted = replace(wanted, uid="")
            uid = identity_of(wanted) or fresh_uid
        else:
            known = _same_machine(wanted, heads, reader)
            if known and not update:
                raise _known_already(os.fspath(path), heads[known])
            if update and not known:
                raise _not_known(wanted, heads.values())
            uid = known or identity_of(wanted) or fresh_uid
        writes = least_writes(uid, rows_of(wanted), reader.rows(uid))
        how = "Brought up to date from" if uid in heads else "Taken in from"
        gone = _taken_away(writes, reader.machine(uid)) if uid in heads else ""
        said = f"{how} {os.path.basename(os.fspath(path))}: {wanted.nickname}{gone}"
        if uid in heads and not writes:
            said = f"{wanted.nickname} says the same as {os.path.basename(os.fspath(path))} already"
        return drafted(uid, said, "", writes)

    done = write(place, draft, sent, begins=True)
    return Loaded(
        uid=done.uid,
        nickname=machine.nickname,
        change_id=done.change_id,
        said=done.said,
        replayed=done.replayed,
        photographs_missing=len(missing_photographs(place, machine)),
    )


def save_record(place: Place, name: str, path: str | os.PathLike[str], *, overwrite: bool = False) -> str:
    """Write a machine of the memory to a record file; the nickname of the machine.

    A file that is there is replaced only with `overwrite`: what a person wrote into it, comments too, would be lost.
    Raises NotThere, UsageError, RecordError.
    """
    uid = _in_memory(place, name)
    target = os.fspath(path)
    if os.path.lexists(target) and not overwrite:
        raise UsageError(
            f"{target!r} is there already",
            allowed="a name that is not taken",
            do="choose another name, or say that it is to be replaced",
        )
    from wreckwright.acts.ask import read_machine

    machine = read_machine(place, uid)
    write_record(target, machine)
    return machine.nickname


def record_text(place: Place, name: str) -> str:
    """The record of a machine of the memory as TOML. Raises NotThere, UsageError if it is a file already."""
    from wreckwright.acts.ask import read_machine

    return to_toml(read_machine(place, _in_memory(place, name)))


def _in_memory(place: Place, name: str) -> str:
    """Identity of a machine that is to be taken out. Raises NotThere, UsageError."""
    found = find_machine(name, place)
    if found.is_file:
        raise UsageError(
            f"{found.name!r} is a file already",
            allowed="the nickname of a machine in the memory",
            do="copy the file instead, or take it into the memory first",
        )
    return found.uid


def new_machine(place: Place, new: NewMachine, sent: Sent) -> Told:
    """Begin a machine from the little that is known of it.

    Raises EntryError that names the field, NotThere (a photograph that was not kept), NicknameTaken.
    """
    trade = trade_data()
    if len(new.photographs) > MOST_PHOTOGRAPHS:
        raise EntryError(
            f"photos: {len(new.photographs)} photographs",
            allowed=f"up to {MOST_PHOTOGRAPHS} to begin with",
            do="choose the best of them; more can be added later",
            field="photos",
        )
    check_photos(place, new.photographs)
    facts = Facts(
        machine_class=class_id(new.machine_class, trade),
        year=new.year,
        maker_and_model=new.maker_and_model,
        currency=new.currency,
        what_hit=new.what_hit,
        key_starts_it=new.key_starts_it,
        turns_over=new.turns_over,
        papers_right=new.papers_right,
        bought=new.bought,
        price=new.price,
        sound_value=new.sound_value,
        seen_in=new.seen_in,
    )
    typed = fact_rows(facts, trade, None)
    if new.nickname.strip():
        check_row("machine", {"nickname": new.nickname.strip()})
    uid = secrets.token_hex(_UID_BYTES)

    def draft(reader: Reader) -> Draft:
        from wreckwright.store.rows import rows_of

        nickname = new.nickname.strip() or propose_nickname(ever_used(reader))
        machine = _built(nickname, typed)
        machine = replace(machine, log=_first_look(machine, new.photographs, sent))
        known = f"{machine.year} {trade.classes[machine.machine_class].name.lower()}"
        return drafted(uid, f"New machine: {nickname}, {known}", "", least_writes(uid, rows_of(machine), ()))

    return write(place, draft, sent, begins=True)


def identity_of(machine: Machine) -> str:
    """Under what identity a record that has one is kept: that one, if it can stand in an address; else made from it.

    >>> from wreckwright.record.types import Machine
    >>> identity_of(Machine(uid="a/b", nickname="Sorrel", machine_class="naked", year=2019))
    'c14cddc033f64b9d'
    """
    if not machine.uid or _PLAIN_UID.fullmatch(machine.uid):
        return machine.uid
    return hashlib.sha256(machine.uid.encode()).hexdigest()[: 2 * _UID_BYTES]


def propose_nickname(taken: Collection[str]) -> str:
    """A plain name that is not `taken` (whatever the capitals): the first of a list that is left, then with a number.

    >>> propose_nickname(["teasel"])
    'Yarrow'
    """
    lowered = {one.strip().casefold() for one in taken}
    names = _names()
    for number in range(1, len(lowered) + 3):
        for name in names:
            proposed = name if number == 1 else f"{name} {number}"
            if proposed.casefold() not in lowered:
                return proposed
    raise AssertionError("there are more names than machines")


def ever_used(reader: Reader) -> set[str]:
    """Nicknames of all machines that are or ever were in the memory."""
    from wreckwright.store.types import RowKey

    uids = {uid for line in reader.changes(limit=1_000_000) for uid in line.machines}
    used = {head.nickname for head in reader.machines()}
    for uid in uids:
        for image, _ in reader.history(RowKey(machine=uid, kind="machine", handle="machine")):
            used.update(str(fields["nickname"]) for fields in (image.before, image.after) if fields)
    return used


def missing_photographs(place: Place, machine: Machine) -> tuple[str, ...]:
    """Photographs that a record names and that are not kept here, by their SHA-256."""
    from wreckwright.store.photos import photo_path

    missing = []
    for sha in photographs_of(machine):
        try:
            photo_path(place.photos, sha)
        except NotThere:
            missing.append(sha)
    return tuple(missing)


def photographs_of(machine: Machine) -> tuple[str, ...]:
    """All photographs that a record names, each once, in its order."""
    named: list[str] = []
    for finding in machine.findings:
        named += finding.photos
    named += [entry.photo_sha256 for entry in machine.log if entry.photo_sha256]
    for tap in machine.taps:
        named += tap.photos
    return tuple(dict.fromkeys(named))


@lru_cache(maxsize=1)
def _names() -> tuple[str, ...]:
    text = (resources.files("wreckwright.acts") / "data" / "nicknames.txt").read_text(encoding="utf-8")
    return tuple(line.strip() for line in text.splitlines() if line.strip() and not line.startswith("#"))


def _built(nickname: str, typed: dict[str, dict[str, Any]]) -> Machine:
    rows = {
        kind: {name: value for name, value in fields.items() if value is not None} for kind, fields in typed.items()
    }
    return msgspec.convert({"nickname": nickname} | rows.pop("machine") | rows, Machine)


def _first_look(machine: Machine, photographs: tuple[str, ...], sent: Sent) -> tuple[LogEntry, ...]:
    day = day_of(machine).isoformat()
    return tuple(
        msgspec.convert(
            {"id": f"log{index}", "date": day, "note": FIRST_LOOK, "photo_sha256": sha} | sent.signature(), LogEntry
        )
        for index, sha in enumerate(dict.fromkeys(photographs), start=1)
    )


def _same_machine(machine: Machine, heads: dict[str, MachineHead], reader: Reader) -> str:
    """Identity of the machine in the memory that a file speaks of; empty if there is none.

    Raises UsageError if the nickname is that of a machine which says itself that it is another one.
    """
    if identity_of(machine) in heads:
        return identity_of(machine)
    named = reader.find(machine.nickname)
    if named is None:
        return ""
    other = reader.machine(named).uid
    if machine.uid and other:
        raise UsageError(
            f"{machine.nickname} in the memory is another machine (uid {other}) than the one of the file"
            f" (uid {machine.uid})",
            allowed="a nickname that no other machine has",
            do="take it in under another name with --as NICKNAME",
        )
    return named


def _taken_away(writes: Collection[Put | Remove], machine: Machine) -> str:
    """Which rows of `machine` the file does not have: they may have been told after it was written."""
    from wreckwright.store.types import Remove

    gone = [one.key for one in writes if isinstance(one, Remove)]
    if not gone:
        return ""
    named = "; ".join(row_words(key.kind, key.handle, machine) for key in gone[:_MOST_NAMED])
    more = f"; and {len(gone) - _MOST_NAMED} more" if len(gone) > _MOST_NAMED else ""
    return f" (not in the file, so taken away: {named}{more})"


def _known_already(path: str, head: MachineHead) -> UsageError:
    return UsageError(
        f"{head.nickname} of {path!r} is in the memory already",
        allowed="--update, or --as NICKNAME",
        do="--update makes it say what the file says, and can be taken back; --as NICKNAME takes the file in as "
        "another machine",
    )


def _not_known(machine: Machine, heads: Collection[MachineHead]) -> UsageError:
    names = ", ".join(head.nickname for head in list(heads)[:6])
    return UsageError(
        f"there is no {machine.nickname} in the memory to bring up to date",
        allowed=f"a file of a machine that is there: {names}" if names else "a file of a machine that is there",
        do="leave --update out to take it in as a new machine",
    )
