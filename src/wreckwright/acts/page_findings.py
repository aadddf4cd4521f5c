"""The findings of a machine, each as it was understood, in the owner's words."""

from __future__ import annotations

import datetime as dt

from wreckwright.acts.checks import words_of
from wreckwright.acts.finding_form import SEVERITY_WORDS
from wreckwright.acts.page_record import PageRecord, Today, component_choices, name_of, page_record
from wreckwright.acts.page_shapes import FindingPage, FindingRow, FindingsPage, FindingState
from wreckwright.errors import NotThere
from wreckwright.record.against_trade import hit_side, read_finding_row
from wreckwright.record.evidence import KNOWN_BAD_FROM
from wreckwright.record.faults import one_of, shown
from wreckwright.record.types import Finding, Machine
from wreckwright.record.words import Match, Unclear, Words
from wreckwright.store.read import Reader
from wreckwright.trade.types import Trade

UNCLEAR = "not understood"


def findings_page(reader: Reader, trade: Trade, uid: str, *, today: Today = dt.date.today) -> FindingsPage:
    """All findings of a machine. Raises NotThere."""
    record = page_record(reader, trade, uid, today=today)
    return FindingsPage(
        head=record.head, findings=finding_rows(record),
        components=component_choices(record.machine, record.trade) if record.machine else (),
    )


def finding_page(reader: Reader, trade: Trade, uid: str, handle: str, *, today: Today = dt.date.today) -> FindingPage:
    """One finding. Raises NotThere."""
    page = findings_page(reader, trade, uid, today=today)
    for row in page.findings:
        if row.handle == handle:
            return FindingPage(head=page.head, finding=row, components=page.components)
    raise NotThere(
        f"{page.head.nickname} has no finding {shown(handle)}",
        allowed="one of its findings" + ("" if page.findings else ", of which there are none yet"),
        do="Go back to the list of findings; it may have been taken away meanwhile",
    )


def finding_rows(record: PageRecord) -> tuple[FindingRow, ...]:
    """In the order of the record."""
    if record.machine is None:
        return ()
    words = words_of(record.trade)
    return tuple(_row(finding, record.machine, record, words) for finding in record.machine.findings)


def _row(finding: Finding, machine: Machine, record: PageRecord, words: Words) -> FindingRow:
    trade = record.trade
    read = read_finding_row(finding, words, assume_side=hit_side(machine))
    match = read if isinstance(read, Match) else None
    components = match.components if match else ()
    severity = match.severity if match else finding.severity
    state = _state(finding, read)
    said = {"bad": SEVERITY_WORDS[severity], "unclear": UNCLEAR}.get(state, state)
    return FindingRow(
        handle=finding.id, rev=record.rev(finding.id),
        name="; ".join(name_of(trade.components[one], machine) for one in components) or _whole(finding, read, trade),
        components=components, component=finding.component, words=finding.what, condition=finding.condition,
        zone=finding.zone, side=finding.side, severity=severity, severity_words=said, state=state, sure=finding.sure,
        suspicion=state in ("bad", "missing") and finding.sure < KNOWN_BAD_FROM, evidence=finding.evidence,
        photos=finding.photos, station=_station(finding, components, trade), by=finding.by, at=finding.at,
        assumed=match.assumed if match else "", problem=_problem(read, machine, trade),
    )


def _state(finding: Finding, read: Match | Unclear | None) -> FindingState:
    if isinstance(read, Unclear):
        return "unclear"
    if read is None or finding.looked_fine or read.fine:
        return "fine"
    return "missing" if read.missing else "bad"


def _whole(finding: Finding, read: Match | Unclear | None, trade: Trade) -> str:
    """The name of a zone or side that was looked at as a whole."""
    if isinstance(read, Unclear):
        return ""
    station = trade.stations.get(finding.zone)
    zone = station.name if station else finding.zone.replace("_", " ")
    side = f"{finding.side} side" if finding.side else ""
    whole = ", ".join(filter(None, (zone, side))) or "the whole machine"
    return whole[:1].upper() + whole[1:]


def _station(finding: Finding, components: tuple[str, ...], trade: Trade) -> str:
    if finding.zone in trade.stations:
        return finding.zone
    for station in trade.stations.values():
        if any(one in station.components for one in components):
            return station.id
    return ""


def _problem(read: Match | Unclear | None, machine: Machine, trade: Trade) -> str:
    if not isinstance(read, Unclear):
        return ""
    near = [name_of(trade.components[one], machine) for one in read.candidates if one in trade.components]
    reason = read.reason[:1].upper() + read.reason[1:]
    return f"{reason}. " + (f"Nearest are {one_of(near)}." if near else "Name the part and what is wrong with it.")
