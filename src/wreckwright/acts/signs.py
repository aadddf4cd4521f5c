"""Marks that tell what happened: seen, looked for and not there, or not said."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from wreckwright.acts.checks import trade_for, words_for
from wreckwright.acts.place import Place
from wreckwright.acts.sent import Sent
from wreckwright.acts.writes import AS_IT_WAS, Told, drafted, new_row, write
from wreckwright.errors import EntryError, NotThere
from wreckwright.record.faults import one_of, shown

if TYPE_CHECKING:
    from wreckwright.store.read import Reader
    from wreckwright.store.types import Draft

SAID = {"seen": "seen", "not_there": "not there", "unknown": "not known"}


def say_sign(place: Place, uid: str, sign: str, seen: str, base_rev: int, sent: Sent) -> Told:
    """Write down whether a sign of the trade data is there: `seen`, `not_there`, or `unknown` to say nothing of it.

    `base_rev`: revision of its row that the page showed, 0 for none. Said twice it counts once. Raises EntryError,
    NotThere, ConflictError (it was said otherwise meanwhile).
    """
    from wreckwright.store.types import Put, Remove, RowKey

    if seen not in SAID:
        raise EntryError(f"seen: found {shown(seen)}", allowed=one_of(SAID), do="choose one of these", field="seen")

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        trade = trade_for(machine)
        row_of_trade = trade.signs.get(sign)
        if row_of_trade is None:
            raise NotThere(f"there is no sign {shown(sign)}", allowed=one_of(trade.signs), do="choose one of these")
        words = words_for(machine)
        # The last row that speaks of it counts, as on the page; there is one, unless a file was written by hand.
        row = next((one for one in reversed(machine.signs) if words.sign(one.sign) == sign), None)
        said = f"Sign {SAID[seen]}: {row_of_trade.text}"
        if row is None:
            if seen == "unknown" or base_rev:
                return drafted(uid, AS_IT_WAS, "", [])
            handle = reader.next_handle(uid, "signs")
            fields: dict[str, Any] = {"sign": sign, "seen": seen == "seen"}
            return drafted(uid, said, handle, [new_row(uid, "signs", handle, fields, sent)])
        if seen != "unknown" and row.seen == (seen == "seen"):
            return drafted(uid, AS_IT_WAS, row.id, [])
        key = RowKey(machine=uid, kind="signs", handle=row.id)
        stored = reader.row(key)
        # A page that showed no row cannot have meant to overrule the one that is there now.
        if seen == "unknown":
            return drafted(uid, said, row.id, [Remove(key=key, base_rev=base_rev)])
        if stored is not None and base_rev == 0:
            return drafted(uid, said, row.id, [Put(key=key, fields={"sign": sign, "seen": seen == "seen"}, base_rev=0)])
        return drafted(uid, said, row.id, [Put(key=key, fields={"seen": seen == "seen"}, base_rev=base_rev)])

    return write(place, draft, sent)
