"""What a form says of one finding, and the row that comes of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import msgspec

from wreckwright.acts.checks import check_row, trade_for, words_for
from wreckwright.errors import EntryError
from wreckwright.record.against_trade import hit_side, read_finding_row
from wreckwright.record.faults import one_of, shown
from wreckwright.record.types import Finding, Machine
from wreckwright.record.words import Match, Unclear
from wreckwright.trade.types import Trade

FindingState = Literal["bad", "missing", "fine"]
STATES = ("bad", "missing", "fine")
SEVERITY_WORDS = {1: "looks", 2: "works badly", 3: "can hurt"}
_TEXTS = ("component", "what", "condition", "evidence", "side", "zone")
_USUAL_SEVERITY = 2
_USUAL_SURE = 0.95


@dataclass(frozen=True, kw_only=True)
class FindingForm:
    """None: the form does not show this field, and it stays as it is. An empty text: the field is to be absent."""

    what: str | None = None
    """Plain words, understood as in a record file."""
    component: str | None = None
    """Instead of words: the component's id."""
    condition: str | None = None
    state: FindingState | None = None
    """None: bad, for a new finding."""
    severity: int | None = None
    """1 looks, 2 works badly, 3 can hurt. None: 2 for a new one by component; for plain words the words decide."""
    sure: float | None = None
    evidence: str | None = None
    photos: tuple[str, ...] | None = None
    side: str | None = None
    zone: str | None = None


def finding_fields(form: FindingForm) -> dict[str, Any]:
    """The fields of the row that the form speaks of; None for those that are to be absent. Raises EntryError."""
    fields: dict[str, Any] = {}
    for name in _TEXTS:
        text = getattr(form, name)
        if text is not None:
            fields[name] = text.strip() or None
    if form.state is not None:
        if form.state not in STATES:
            raise EntryError(
                f"state: found {shown(form.state)}", allowed=one_of(STATES), do="choose one of these", field="state"
            )
        fields["missing"] = True if form.state == "missing" else None
        fields["looked_fine"] = True if form.state == "fine" else None
    if form.severity is not None:
        fields["severity"] = None if form.severity == _USUAL_SEVERITY else form.severity
    if form.sure is not None:
        fields["sure"] = None if form.sure == _USUAL_SURE else form.sure
    if form.photos is not None:
        fields["photos"] = list(dict.fromkeys(form.photos)) or None
    check_row("findings", fields)
    return fields


def check_finding(fields: Mapping[str, Any], machine: Machine) -> Finding:
    """The finding that a row says, if it can be understood. Raises EntryError that names the nearest components."""
    plain = {name: value for name, value in fields.items() if value is not None}
    finding = msgspec.convert({"id": "-"} | plain, Finding)
    if not (finding.what or finding.component or finding.zone or finding.side):
        raise EntryError(
            "nothing is said",
            allowed="what was seen in plain words, or a component",
            do="write it like 'front rim dinged', or choose the component",
            field="what",
        )
    trade = trade_for(machine)
    read = read_finding_row(finding, words_for(machine), assume_side=hit_side(machine))
    if isinstance(read, Unclear):
        raise _asked_back(finding, read, machine, trade)
    return finding


def finding_words(finding: Finding, machine: Machine) -> str:
    """A finding in a few words, for the journal: `left mirror gone`, `Radiator: leaks (works badly)`."""
    trade = trade_for(machine)
    if finding.component:
        match = read_finding_row(finding, words_for(machine))
        component = match.components[0] if isinstance(match, Match) else finding.component
        name = component_words(component, machine, trade)
        if finding.looked_fine:
            return f"{name}: looked fine"
        if finding.missing:
            return f"{name}: missing"
        seen, severity = finding.condition or finding.what, SEVERITY_WORDS[finding.severity]
        return f"{name}: {seen} ({severity})" if seen else f"{name}: {severity}"
    if finding.what:
        return f"{finding.what}: looked fine" if finding.looked_fine else finding.what
    station = trade.stations.get(finding.zone)
    zone = station.name if station else finding.zone.replace("_", " ")
    return f"{', '.join(filter(None, (zone, finding.side)))}: looked fine"


def component_words(component: str, machine: Machine, trade: Trade) -> str:
    """A component's name in the owner's words (UK or US); an id that is not known stays as it is."""
    row = trade.components.get(component)
    if row is None:
        return component
    return row.name_us if machine.owner.words == "us" else row.name_uk


def _asked_back(finding: Finding, unclear: Unclear, machine: Machine, trade: Trade) -> EntryError:
    field = "component" if finding.component else "what"
    names = [f"{component_words(one, machine, trade)} ({one})" for one in unclear.candidates]
    return EntryError(
        f"{shown(getattr(finding, field))}: {unclear.reason}",
        allowed=f"words that mean one part; nearest are {one_of(names)}" if names else "words that mean one part",
        do="write one of these names with what is wrong with it, or choose the component; "
        "what is no part belongs into a note",
        field=field,
    )
