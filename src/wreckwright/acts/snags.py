"""What went wrong at the bench, told with one button: what it means for findings, parts and jobs, as one change.

The kinds are ours. A finding stands for something broken or gone on the machine; a part that came wrong or does not fit
says nothing about the machine, and makes none.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, cast, get_args

from wreckwright.acts.checks import trade_for, words_for
from wreckwright.acts.finding_form import component_words
from wreckwright.acts.place import Place, memory
from wreckwright.acts.plan_shapes import RemedyOffer
from wreckwright.acts.remedy_offers import REMEDY_WORDS, offers_for_component, offers_for_line
from wreckwright.acts.sent import Sent
from wreckwright.acts.several import Several
from wreckwright.acts.snag_kinds import MAKERS, Case, line_of_piece
from wreckwright.acts.work_key import AT_THE_BENCH, Work, line_name, work_of
from wreckwright.acts.writes import Told, check_photos, drafted, write
from wreckwright.errors import EntryError, NotThere
from wreckwright.record.against_trade import hit_side, read_finding_row
from wreckwright.record.faults import one_of, shown
from wreckwright.record.remedies import BUYING_REMEDIES
from wreckwright.record.types import Machine, PartLine, RemedyName
from wreckwright.record.words import Match
from wreckwright.trade.types import Trade

if TYPE_CHECKING:
    from wreckwright.store.read import Reader
    from wreckwright.store.types import Draft

SNAGS: dict[str, str] = {
    "snapped": "Something snapped",
    "does_not_fit": "It does not fit",
    "arrived_wrong": "The wrong one came",
    "missing": "Something is missing",
    "fails_test": "It fails the test",
    "took_longer": "It takes longer",
    "gate_failed": "The answer is no",
}
"""Kinds of snag, and the words for their buttons."""
_LONGEST_PIECE = 200


def snags_for(work: Work) -> tuple[str, ...]:
    """Kinds of snag that make sense for a piece of work."""
    if work.what in ("gate", "way"):
        return ("gate_failed",)
    if work.what not in AT_THE_BENCH:
        return ("snapped", "missing")
    lines = ("does_not_fit", "arrived_wrong") if work.lines or work.component else ()
    tested = ("fails_test",) if work.step is not None and work.step.kind == "test" else ()
    return ("snapped", *lines, "missing", *tested, "took_longer")


def snag(
    place: Place, uid: str, key: str, kind: str, sent: Sent, *, piece: str = "", note: str = "",
    photos: tuple[str, ...] = (), minutes: int | None = None,
) -> Told:
    """Write down what went wrong with a piece of work. The handle told is that of the finding, else of the part line,
    job or gate that says it; `remedies_on_offer` takes it.

    `piece`: what snapped or is missing, in words or by the name of a component; of a wrong part the handle of its line.
    `minutes`: of what takes longer, how many are still to do. Raises NotThere, EntryError.
    """
    if kind not in SNAGS:
        raise EntryError(f"kind: found {shown(kind)}", allowed=one_of(SNAGS), do="choose one of these", field="kind")
    check_photos(place, photos)
    piece, note = " ".join(piece.split()), note.strip()
    if len(piece) > _LONGEST_PIECE:
        raise EntryError(
            f"piece: {len(piece)} letters", allowed=f"up to {_LONGEST_PIECE}", do="name it in a few words",
            field="piece",
        )

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        trade = trade_for(machine)
        work = work_of(key, machine, trade)
        possible = snags_for(work)
        if kind not in possible:
            raise EntryError(
                f"kind: {SNAGS[kind].lower()} is nothing that can be said of {work.name}", allowed=one_of(possible),
                do="choose one of these", field="kind",
            )
        several = Several(reader, sent)
        case = Case(
            several=several, uid=uid, machine=machine, trade=trade, work=work, kind=kind, piece=piece, note=note,
            photos=tuple(dict.fromkeys(photos)), minutes=minutes, sent=sent,
        )
        handle, said = MAKERS[kind](case)
        return drafted(uid, said, handle, several.writes())

    return write(place, draft, sent)


def remedies_on_offer(place: Place, uid: str, handle: str) -> tuple[RemedyOffer, ...]:
    """What can be done about a finding, or about a part line for a piece: each way with price and wait in words.

    Of a finding about a mere piece it is the piece that is decided about, as long as nothing is decided of it: not the
    part it belongs to. Empty for the handle of anything else. Raises NotThere for no machine.
    """
    with memory(place).reading() as reader:
        machine = reader.machine(uid)
    trade = trade_for(machine)
    line = next((one for one in machine.parts if one.id == handle), None)
    if line is not None:
        return offers_for_line(line, machine, trade)
    finding = next((one for one in machine.findings if one.id == handle), None)
    if finding is None:
        return ()
    piece = line_of_piece(finding, machine.parts)
    if piece is not None:
        return offers_for_line(piece, machine, trade) if piece.state == "wanted" and piece.remedy is None else ()
    match = read_finding_row(finding, words_for(machine), assume_side=hit_side(machine))
    if not isinstance(match, Match) or match.fine or finding.looked_fine:
        return ()
    return tuple(offer for one in match.components for offer in offers_for_component(one, machine, trade))


def choose_remedy(place: Place, uid: str, component: str, remedy: str, sent: Sent) -> Told:
    """Say how something is put right. `component`: its id, or the handle of a part line that is for a mere piece.

    To leave such a piece as it is, is to want it no more: its line is refused. Raises NotThere, EntryError.
    """
    if remedy not in get_args(RemedyName):
        raise EntryError(
            f"remedy: found {shown(remedy)}", allowed=one_of(get_args(RemedyName)), do="choose one of these",
            field="remedy",
        )

    def draft(reader: Reader) -> Draft:
        machine = reader.machine(uid)
        trade = trade_for(machine)
        several = Several(reader, sent)
        line = next((one for one in machine.parts if one.id == component), None)
        if line is not None:
            return _choose_for_line(several, uid, line, remedy, machine, trade)
        if component not in trade.components:
            raise NotThere(
                f"there is no component and no part line {shown(component)}", allowed=one_of(trade.components),
                do="choose one of the offers",
            )
        said = f"{component_words(component, machine, trade)}: {_remedy_words(remedy)}"
        row = next((one for one in machine.remedies if one.component == component), None)
        if row is None:
            handle = several.new(uid, "remedies", {"component": component, "remedy": remedy})
        else:
            handle = row.id
            # Decided anew, even if the same way: whoever asks for a decision sees when it was made.
            several.put(uid, "remedies", handle, {"remedy": remedy} | sent.signature())
        for one in machine.parts:
            # An order that has gone out stays what it is; a wish follows the choice.
            if one.component != component or one.state != "wanted":
                continue
            if remedy in BUYING_REMEDIES:
                several.put(uid, "parts", one.id, {"remedy": remedy})
            elif remedy == "leave" or one.remedy in BUYING_REMEDIES:
                # Nothing is bought any more, or a part that nobody bought would be fitted in the end.
                several.put(uid, "parts", one.id, {"state": "refused"})
        return drafted(uid, said, handle, several.writes())

    return write(place, draft, sent)


def _remedy_words(remedy: str) -> str:
    words = REMEDY_WORDS[cast(RemedyName, remedy)]
    return words[:1].lower() + words[1:]


def _choose_for_line(
    several: Several, uid: str, line: PartLine, remedy: str, machine: Machine, trade: Trade
) -> Draft:
    name = line_name(line, machine, trade)
    said = f"{name[:1].upper()}{name[1:]}: {_remedy_words(remedy)}"
    if remedy != "leave":
        several.put(uid, "parts", line.id, {"remedy": remedy})
        return drafted(uid, said, line.id, several.writes())
    if line.state != "wanted":
        raise EntryError(
            f"remedy: {name} is {line.state.replace('_', ' ')}", allowed="to leave what is not ordered yet",
            do="send it back, or say that it is refused", field="remedy",
        )
    # The line stays as what was decided.
    several.put(uid, "parts", line.id, {"state": "refused", "remedy": "leave"})
    own = {
        job.id for job in machine.jobs
        if job.stands_for == f"part:{line.id}" or job.stands_for.startswith(f"part:{line.id}:")
    }
    for job in machine.jobs:
        if job.id in own:
            several.remove(uid, "jobs", job.id)
        elif line.id in job.parts or own.intersection(job.after):
            several.put(uid, "jobs", job.id, {
                "parts": [one for one in job.parts if one != line.id] or None,
                "after": [one for one in job.after if one not in own] or None,
            })
    return drafted(uid, said, line.id, several.writes())
