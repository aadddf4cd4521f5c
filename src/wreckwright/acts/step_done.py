"""What came of the next step: a question answered, or a look after which nothing was wrong."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, get_args

from wreckwright.acts.checks import trade_for, words_for
from wreckwright.acts.place import Place
from wreckwright.acts.sent import Sent
from wreckwright.acts.writes import Told, drafted, new_row, write
from wreckwright.errors import EntryError, NotThere
from wreckwright.record.against_trade import find_class, hit_side, read_finding_row
from wreckwright.record.faults import one_of, shown
from wreckwright.record.types import GateAnswer, Machine
from wreckwright.record.words import Match

if TYPE_CHECKING:
    from wreckwright.store.read import Reader
    from wreckwright.store.types import Draft
    from wreckwright.trade.types import Trade

ANSWERS = get_args(GateAnswer)


def answer_gate(place: Place, uid: str, gate: str, answer: str, sent: Sent, *, base_rev: int | None = None) -> Told:
    """Write down the answer to a question: `yes`, `no`, `way_round`, or `unasked` to take it back.

    `gate`: id of the trade data (`straight`), or the handle of a gate in the record. `base_rev`: revision of its row
    that the page showed, 0 for none; None: whatever stands there now. Raises EntryError, NotThere, ConflictError.
    """
    from wreckwright.store.types import Put, RowKey

    if answer not in ANSWERS:
        raise EntryError(
            f"answer: found {shown(answer)}", allowed=one_of(ANSWERS), do="choose one of these", field="answer"
        )

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        templates = trade_for(machine).gates
        row = next((one for one in machine.gates if gate in (one.id, one.template)), None)
        if row is None and gate not in templates:
            known = (*templates, *(one.id for one in machine.gates))
            raise NotThere(f"there is no question {shown(gate)}", allowed=one_of(known), do="choose one of these")
        template = templates.get(row.template if row else gate)
        asked = (row.question if row else "") or (template.question if template else gate)
        said = f"{asked} {answer.replace('_', ' ').capitalize()}"
        if row is None:
            handle = reader.next_handle(uid, "gates")
            fields = {"template": gate, "answer": answer}
            return drafted(uid, said, handle, [new_row(uid, "gates", handle, fields, sent)])
        key = RowKey(machine=uid, kind="gates", handle=row.id)
        stored = reader.row(key)
        rev = base_rev if base_rev is not None else stored.rev if stored else 0
        wanted: dict[str, Any] = {"answer": None if answer == "unasked" else answer}
        return drafted(uid, said, row.id, [Put(key=key, fields=wanted, base_rev=rev)])

    return write(place, draft, sent)


def looked_and_fine(place: Place, uid: str, check: str, sent: Sent) -> Told:
    """A check of the trade data was made, and nothing was wrong with all that it tells something of.

    What was found bad before stays so. One finding for each part, in one change; said twice it counts once.
    Raises NotThere.
    """

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        trade = trade_for(machine)
        made = trade.checks.get(check)
        if made is None:
            raise NotThere(f"there is no check {shown(check)}", allowed=one_of(trade.checks), do="choose one of these")
        spoken = _spoken_of(machine, trade, check)
        rows: list[Any] = []
        handles: list[str] = []
        for one in made.detects:
            if one.component not in spoken:
                handles.append(reader.next_handle(uid, "findings", besides=handles))
                fields = {"component": one.component, "looked_fine": True, "check": check}
                rows.append(new_row(uid, "findings", handles[-1], fields, sent))
        said = f"{made.name}: nothing found" if rows else f"{made.name}: noted before"
        return drafted(uid, said, handles[0] if handles else "", rows)

    return write(place, draft, sent)


def _spoken_of(machine: Machine, trade: Trade, check: str) -> frozenset[str]:
    """Components of which this check says nothing new: found bad, noted by it before, or not on such a machine."""
    kind = find_class(machine.machine_class, trade)
    found = set(kind.absent_components if kind else ())
    words, side = words_for(machine), hit_side(machine)
    for finding in machine.findings:
        match = read_finding_row(finding, words, assume_side=side)
        if isinstance(match, Match) and (finding.check == check or not (finding.looked_fine or match.fine)):
            found.update(match.components)
    return frozenset(found)
