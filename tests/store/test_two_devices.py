"""Two devices with outboxes against one memory, and a model of what should be in it.

What devices send is delayed, doubled, sent in another order, sent again after it was acknowledged; the program dies in
the middle of a transaction (its connections are cut), or after the commit and before the answer. Always:

- what was acknowledged is there exactly once, what was not is there once or not at all;
- no field changes unless its writer saw the value that it had, or took a change back;
- an undo of an undo is the state before;
- the database is sound, and the journal leads to the present state.
"""

from __future__ import annotations

import itertools
import shutil
import sqlite3
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from sqlalchemy import event

from tests.store.stores import NOON, assert_whole, everything, key, made, new_store, obeys_rules, raw, take_in
from tests.store.two_devices_model import Add, Body, Change, Done, Edit, Model, Name, Refused, Take, Undo, Version
from wreckwright.errors import ConflictError, OperationError
from wreckwright.store.apply import apply
from wreckwright.store.engine import Store, open_store
from wreckwright.store.read import Reader
from wreckwright.store.types import Draft, Operation, Outcome, Put, Remove
from wreckwright.store.undo import undo

DEVICES = ("phone", "tablet")
FIELDS = {
    "findings": {"what": ("dinged", "bent", "cracked"), "evidence": ("lamp", "hand", None), "severity": (1, 3, None)},
    "taps": {"note": ("left", "right", None), "decided": (True, None)},
    "purchase": {"price_minor": (1, 2, 3, None), "bought": (True, None)},
}


class Cut(Exception):
    """The program died."""


@dataclass
class Entry:
    """One thing in an outbox."""

    operation: Operation
    body: Body
    acknowledged: tuple[Done, Outcome] | None = None
    committed: Done | None = None
    """What it came to, if it came to a commit whose answer was lost."""


@dataclass
class Device:
    name: str
    seen: dict[Name, tuple[int, Mapping[str, Any]]] = field(default_factory=dict)
    outbox: list[Entry] = field(default_factory=list)
    sent: list[Entry] = field(default_factory=list)


class TwoDevices(RuleBasedStateMachine):
    @initialize()
    def begin(self) -> None:
        self.folder = Path(tempfile.mkdtemp())
        self.path = self.folder / "wreckwright.sqlite"
        new_store(self.path).close()
        self.store = self.opened()
        self.numbers = itertools.count(1)
        self.devices = [Device(name) for name in DEVICES]
        self.notes: dict[str, Entry] = {}
        findings = [{"id": "f1", "what": "dinged"}, {"id": "f2", "what": "bent", "severity": 3}]
        self.ids = [take_in(self.store, made(findings=findings))]
        self.model = Model()
        rows: dict[Name, Version] = {}
        with self.store.reading() as reader:
            for row in reader.rows("m1"):
                self.model.states += 1
                rows[row.key.kind, row.key.handle] = Version(self.model.states, row.place, row.fields)
        self.model.rows = {row: [version] for row, version in rows.items()}
        self.model.changes = [Change(dict.fromkeys(rows, (0, 1)))]
        self.look(self.devices[0])
        self.look(self.devices[1])

    def teardown(self) -> None:
        if hasattr(self, "store"):
            # All that is still under way arrives, in the end.
            for device in self.devices:
                while device.outbox:
                    self.send(device, device.outbox[0])
            self.agrees()
            assert_whole(self.store)
            self.every_tap_is_there_once()
            self.store.close()
            shutil.rmtree(self.folder)

    def opened(self) -> Store:
        store = open_store(self.path, create=False)
        # The power does not go here, and waiting for the disk is most of the time.
        store.close()
        event.listen(store.engine, "connect", lambda connection, _: connection.execute("PRAGMA synchronous=OFF"))
        return store

    # --- what devices do without the memory

    def entry(self, device: Device, body: Body) -> Entry:
        number = next(self.numbers)
        entry = Entry(Operation(device=device.name, op=f"op-{number:08}", body_hash=repr(body)), body)
        device.outbox.append(entry)
        return entry

    @rule(at=st.integers(0, 1), kind=st.sampled_from(["taps", "findings"]), twice=st.booleans())
    def add(self, at: int, kind: str, twice: bool) -> None:
        number = next(self.numbers)
        words = [f"new {number}", f"also new {number}"][: 1 + twice]
        fields = "note" if kind == "taps" else "what"
        body = tuple(Add(kind, {fields: one} | ({"what": "snag"} if kind == "taps" else {})) for one in words)
        entry = self.entry(self.devices[at], body)
        self.notes |= dict.fromkeys(words, entry)

    @rule(at=st.integers(0, 1), data=st.data())
    def edit(self, at: int, data: st.DataObject) -> None:
        device = self.devices[at]
        rows = sorted(row for row in device.seen if row[0] in FIELDS)
        chosen = data.draw(st.lists(st.sampled_from(rows), min_size=1, max_size=2, unique=True))
        writes: list[Edit | Take | Add] = []
        for row in chosen:
            names = data.draw(st.lists(st.sampled_from(sorted(FIELDS[row[0]])), min_size=1, max_size=2, unique=True))
            values = {name: data.draw(st.sampled_from(FIELDS[row[0]][name])) for name in names}
            writes.append(Edit(row, device.seen[row][0], values))
        self.entry(device, tuple(writes))

    @rule(data=st.data())
    def both_edit_one_row(self, data: st.DataObject) -> None:
        shared = sorted(row for row in self.devices[0].seen.keys() & self.devices[1].seen.keys() if row[0] in FIELDS)
        row = data.draw(st.sampled_from(shared))
        for device in self.devices:
            name = data.draw(st.sampled_from(sorted(FIELDS[row[0]])))
            value = data.draw(st.sampled_from(FIELDS[row[0]][name]))
            self.entry(device, (Edit(row, device.seen[row][0], {name: value}),))

    @rule(at=st.integers(0, 1), data=st.data(), really=st.sampled_from([False, False, True]))
    def take_away(self, at: int, data: st.DataObject, really: bool) -> None:
        device = self.devices[at]
        rows = sorted(row for row in device.seen if row[0] in ("findings", "taps"))
        if rows and really:
            row = data.draw(st.sampled_from(rows))
            self.entry(device, (Take(row, device.seen[row][0]),))

    @rule(at=st.integers(0, 1), back=st.integers(0, 5))
    def want_undone(self, at: int, back: int) -> None:
        change = len(self.model.changes) - 1 - back
        if change > 0:
            self.entry(self.devices[at], Undo(change))

    # --- what comes to the memory

    @rule(at=st.integers(0, 1))
    def look_again(self, at: int) -> None:
        self.look(self.devices[at])

    def look(self, device: Device) -> None:
        with self.store.reading() as reader:
            device.seen = {(row.key.kind, row.key.handle): (row.rev, row.fields) for row in reader.rows("m1")}

    @precondition(lambda self: any(device.outbox for device in self.devices))
    @rule(data=st.data(), fate=st.sampled_from(["arrives", "arrives", "answer lost", "dies", "dies"]))
    def deliver(self, data: st.DataObject, fate: str) -> None:
        device = data.draw(st.sampled_from([device for device in self.devices if device.outbox]))
        entry = data.draw(st.sampled_from(device.outbox))
        if fate == "arrives":
            self.send(device, entry)
        elif fate == "answer lost":
            self.lose_answer(entry)
            self.store.close()
            self.store = self.opened()
        else:
            self.die(entry, after=data.draw(st.integers(0, 12)))

    @rule(at=st.integers(0, 1), back=st.integers(0, 3), times=st.integers(1, 3))
    def undo_and_undo_that(self, at: int, back: int, times: int) -> None:
        """Undo of undo is the state before, told without the model."""
        device, change = self.devices[at], max(len(self.model.changes) - 1 - back, 1)
        states = [self.state()]
        for _ in range(times):
            if change >= len(self.model.changes):
                return
            entry = self.entry(device, Undo(change))
            self.send(device, entry)
            if entry.acknowledged is None:
                return
            states.append(self.state())
            change = len(self.model.changes) - 1
        assert all(state == states[number % 2] for number, state in enumerate(states))

    def state(self) -> list[tuple[Any, ...]]:
        rows = [(row["kind"], row["handle"], row["place"], row["body"]) for row in raw(self.store, "record_row")]
        return sorted(row for row in rows if row[-1] is not None)

    @precondition(lambda self: any(device.sent for device in self.devices))
    @rule(data=st.data(), forged=st.booleans())
    def arrives_again(self, data: st.DataObject, forged: bool) -> None:
        device = data.draw(st.sampled_from([device for device in self.devices if device.sent]))
        entry = data.draw(st.sampled_from(device.sent))
        assert entry.acknowledged is not None
        before = everything(self.store)
        if forged:
            other = Operation(device=device.name, op=entry.operation.op, body_hash="another body")
            with pytest.raises(OperationError):
                self.carry_out(other, entry.body)
        else:
            _, first = entry.acknowledged
            again = self.carry_out(entry.operation, entry.body)
            assert again == Outcome(change_id=first.change_id, result=first.result, replayed=True)
        assert everything(self.store) == before

    def send(self, device: Device, entry: Entry) -> None:
        """The whole way: it arrives, and the answer comes back."""
        expected: Done | None = None
        if entry.committed is not None:
            outcome = self.carry_out(entry.operation, entry.body)
            assert outcome.replayed
            expected = entry.committed
        else:
            try:
                expected = self.model.carry_out(entry.body)
            except Refused:
                before = everything(self.store)
                with pytest.raises(ConflictError) as caught:
                    self.carry_out(entry.operation, entry.body)
                assert caught.value.conflicts
                assert everything(self.store) == before
                device.outbox.remove(entry)
                self.notes = {note: other for note, other in self.notes.items() if other is not entry}
                return
            outcome = self.carry_out(entry.operation, entry.body)
            assert not outcome.replayed
            self.note_change(entry, outcome, expected)
        assert (outcome.change_id is None) == (expected.change is None)
        if expected.change is not None:
            assert outcome.change_id == self.ids[expected.change]
        if not isinstance(entry.body, Undo):
            assert outcome.result == {"handles": list(expected.handles)}
        entry.acknowledged = (expected, outcome)
        device.outbox.remove(entry)
        device.sent.append(entry)

    def lose_answer(self, entry: Entry) -> None:
        """It arrives and is kept; the program dies before it can say so."""
        if entry.committed is not None:
            assert self.carry_out(entry.operation, entry.body).replayed
            return
        try:
            expected = self.model.carry_out(entry.body)
        except Refused:
            return
        outcome = self.carry_out(entry.operation, entry.body)
        self.note_change(entry, outcome, expected)
        entry.committed = expected

    def note_change(self, entry: Entry, outcome: Outcome, expected: Done) -> None:
        if outcome.change_id is not None and expected.change is not None:
            self.ids.append(outcome.change_id)
            self.nothing_was_silently_written_over(entry, outcome.change_id)

    def die(self, entry: Entry, after: int) -> None:
        """The program dies in the middle: its connections are gone before the commit, and it starts anew."""
        count = itertools.count()
        before = everything(self.store)

        def cut(connection: Any, *_: Any) -> None:
            if next(count) == after:
                connection.connection.dbapi_connection.close()
                raise Cut

        def cut_commit(connection: Any) -> None:
            connection.connection.dbapi_connection.close()
            raise Cut

        event.listen(self.store.engine, "before_cursor_execute", cut)
        event.listen(self.store.engine, "commit", cut_commit)
        # What comes out is Cut, or what SQLAlchemy says of the connection when it clears up; or it was refused before.
        with pytest.raises((Cut, ConflictError, sa.exc.ProgrammingError, sqlite3.ProgrammingError)):
            self.carry_out(entry.operation, entry.body)
        self.store.close()
        self.store = self.opened()
        assert everything(self.store) == before

    def carry_out(self, operation: Operation, body: Body) -> Outcome:
        """One request, as the program would handle it."""
        if isinstance(body, Undo):
            return undo(
                self.store,
                change_id=self.ids[body.change],
                who=operation.device,
                at=NOON,
                check=obeys_rules,
                operation=operation,
            )

        def draft(reader: Reader) -> Draft:
            writes: list[Put | Remove] = []
            handles: list[str] = []
            for one in body:
                if isinstance(one, Add):
                    handles.append(reader.next_handle("m1", one.kind, besides=handles))
                    writes.append(Put(key=key(handles[-1], one.kind), fields=one.fields, base_rev=0))
                elif isinstance(one, Take):
                    writes.append(Remove(key=key(one.row[1], one.row[0]), base_rev=one.base_rev))
                else:
                    writes.append(Put(key=key(one.row[1], one.row[0]), fields=one.fields, base_rev=one.base_rev))
            return Draft(what=operation.op, writes=tuple(writes), result={"handles": handles})

        return apply(self.store, who=operation.device, at=NOON, draft=draft, check=obeys_rules, operation=operation)

    # --- what must hold

    @invariant()
    def agrees(self) -> None:
        with self.store.reading() as reader:
            found = {(row.key.kind, row.key.handle): (row.rev, row.place, row.fields) for row in reader.rows("m1")}
            lines = reader.changes(limit=10_000)
        assert found == self.model.living()
        assert [line.id for line in reversed(lines)] == self.ids
        for number, line in enumerate(reversed(lines)):
            undoes = self.model.changes[number].undoes
            assert line.undoes == (None if undoes is None else self.ids[undoes])
            assert (line.undone_by is not None) == self.model.undone(number)

    def nothing_was_silently_written_over(self, entry: Entry, change_id: str) -> None:
        """Told from the journal alone: each field that changed stood as its writer had seen it."""
        images = [image for image in raw(self.store, "row_image") if image["change_id"] == change_id]
        assert images
        with self.store.reading() as reader:
            for image in reader.images(change_id):
                before, after = image.before or {}, image.after or {}
                changed = {name for name in before.keys() | after.keys() if before.get(name) != after.get(name)}
                if isinstance(entry.body, Undo):
                    undone = {other.key: other for other in reader.images(self.ids[entry.body.change])}
                    assert (image.before, image.after) == (undone[image.key].after, undone[image.key].before)
                    continue
                row = (image.key.kind, image.key.handle)
                write = next((one for one in entry.body if not isinstance(one, Add) and one.row == row), None)
                if write is None:
                    assert image.before is None
                    continue
                seen = reader.image(image.key, write.base_rev)
                assert seen is not None and seen.after is not None
                assert all(seen.after.get(name) == before.get(name) for name in changed)

    def every_tap_is_there_once(self) -> None:
        made_with: dict[str, int] = {}
        undone = {line["id"]: line["undoes"] for line in raw(self.store, "change")}
        with self.store.reading() as reader:
            for change_id in self.ids:
                for image in reader.images(change_id):
                    if image.before is None and image.after is not None and undone[change_id] is None:
                        note = str(image.after.get("note") or image.after.get("what"))
                        made_with[note] = made_with.get(note, 0) + 1
        for note, entry in self.notes.items():
            assert entry.acknowledged is not None
            assert made_with.get(note) == 1


TwoDevices.TestCase.settings = settings(
    max_examples=40, stateful_step_count=40, deadline=None, phases=(Phase.generate,)
)
TestTwoDevices = TwoDevices.TestCase
