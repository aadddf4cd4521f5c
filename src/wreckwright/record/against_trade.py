"""Compare the names in a record with the trade data: classes, components, covers, brands, signs, gates, ..."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import islice

from wreckwright.errors import Problem
from wreckwright.record.faults import Fault, nearest, one_of, shown
from wreckwright.record.file import MOST_PROBLEMS, as_problems, parse, to_json
from wreckwright.record.types import Finding, Machine
from wreckwright.record.where import Path
from wreckwright.record.words import Match, Unclear, Words
from wreckwright.trade.types import MachineClass, Trade


def check_against_trade(
    machine: Machine, trade: Trade, *, source: bytes | None = None, name: str = "record"
) -> list[Problem]:
    """All names in a record that the trade data do not know, each with the nearest ones; empty if there are none.

    With `source`, the bytes the machine was read from, the places have line numbers.

    >>> from wreckwright.record.file import read_record
    >>> from wreckwright.trade.load import load_trade
    >>> machine = read_record(b'nickname = "S"\\nmachine_class = "naked"\\nyear = 2019\\ncovers_off = ["seat_of"]')
    >>> [problem.do for problem in check_against_trade(machine, load_trade())]
    ['write seat_off']
    """
    # One more than are listed is enough to say that there are more; reading thousands of odd texts would take long.
    faults = list(islice((fault for check in _CHECKS for fault in check(machine, trade)), MOST_PROBLEMS + 1))
    if not faults:
        return []
    raw, lines = parse(to_json(machine) if source is None else source, name=name)
    return as_problems(faults, raw=raw, lines=lines())


def find_class(name: str, trade: Trade) -> MachineClass | None:
    """The class of machine by its id, name or a synonym, whatever the case.

    >>> from wreckwright.trade.load import load_trade
    >>> find_class("no such thing", load_trade()) is None
    True
    """

    def bare(text: str) -> str:
        return " ".join(text.lower().replace("_", " ").replace("-", " ").split())

    return next(
        (one for one in trade.classes.values() if bare(name) in map(bare, (one.id, one.name, *one.synonyms))), None
    )


def finding_zone(finding: Finding, trade: Trade) -> frozenset[str] | None:
    """Components of the zone or station that a finding names; all of them if it names none; None if it is unknown."""
    if not finding.zone:
        return frozenset(trade.components)
    inside = frozenset(one.id for one in trade.components.values() if one.zone == finding.zone)
    station = trade.stations.get(finding.zone)
    return inside or (frozenset(station.components) if station else None)


def _name(
    path: Path, name: str, known: Iterable[str], what: str, *, called: Mapping[str, str] | None = None
) -> Iterator[Fault]:
    """`called`: other names -> the known name that is meant."""
    names = sorted(known)
    if name and name not in names:
        spoken = name.lower().replace("_", " ")
        near = (called[spoken],) if called and spoken in called else nearest(name, names)
        yield Fault(
            path=path,
            found=f"{shown(name)}, which is no {what} of the trade data",
            allowed=one_of(names),
            do=f"write {one_of(near)}" if near else f"write one of these, or add the {what} in a model pack",
        )


def _of_the_machine(machine: Machine, trade: Trade) -> Iterator[Fault]:
    if find_class(machine.machine_class, trade) is None:
        by_name = {word: one.id for one in trade.classes.values() for word in (*one.synonyms, one.name, one.id)}
        near = tuple(dict.fromkeys(by_name[word] for word in nearest(machine.machine_class, by_name)))
        yield Fault(
            path=("machine_class",),
            found=f"{shown(machine.machine_class)}, which is no class of machine",
            allowed=one_of(trade.classes),
            do=f"write {one_of(near)}" if near else "write the class that comes nearest",
        )
    for index, cover in enumerate(machine.covers_off):
        yield from _name(("covers_off", index), cover, trade.covers, "cover")
    yield from _name(("purchase", "brand"), machine.purchase.brand, trade.brand_discounts, "title brand")


def _of_the_findings(machine: Machine, trade: Trade) -> Iterator[Fault]:
    words = Words(trade)
    side = hit_side(machine)
    for index, finding in enumerate(machine.findings):
        path: Path = ("findings", index)
        yield from _name((*path, "check"), finding.check, trade.checks, "check")
        if finding_zone(finding, trade) is None:
            zones = {one.zone for one in trade.components.values()} | set(trade.stations)
            yield from _name((*path, "zone"), finding.zone, zones, "zone or station")
        read = read_finding_row(finding, words, assume_side=side)
        if isinstance(read, Unclear):
            field = "component" if finding.component else "what"
            yield _unclear((*path, field), getattr(finding, field), read)
        elif read is not None and finding.side:
            wrong = next(
                (name for name in read.components if trade.components[name].side not in (finding.side, "middle")), None
            )
            if wrong:
                yield Fault(
                    path=(*path, "side"),
                    found=f"{finding.side}, but {wrong} is on the {trade.components[wrong].side}",
                    allowed="the side the component is on, or none",
                    do="name the component on that side, or leave side out",
                )
    for index, sign in enumerate(machine.signs):
        read_sign = words.sign(sign.sign)
        if isinstance(read_sign, Unclear):
            yield _unclear(("signs", index, "sign"), sign.sign, read_sign)


def read_finding_row(finding: Finding, words: Words, *, assume_side: str = "") -> Match | Unclear | None:
    """The components that a finding names; None where it says that a whole zone or side was looked at and fine.

    The component decides if there is one, else the words. A severity other than 2 is the owner's own; 2 is also what
    stands there when nobody chose, so then, for a finding in plain words, the words decide.

    >>> from wreckwright.trade.load import load_trade
    >>> read_finding_row(Finding(id="f1", what="tank dented"), Words(load_trade())).severity
    1
    """
    if finding.component:
        component = words.component(finding.component, side=finding.side)
        if isinstance(component, Unclear):
            return component
        condition = finding.condition or finding.what.strip() or ("missing" if finding.missing else "")
        return Match(components=(component,), condition=condition, severity=finding.severity, missing=finding.missing)
    text = finding.what.strip()
    if finding.looked_fine and (finding.zone or not text):
        return None
    match = words.finding(f"{finding.side} {text}", assume_side=assume_side)
    if isinstance(match, Unclear):
        # "rest of this side" and the like: with a side given, words that name no part mean the whole side.
        return None if finding.looked_fine and finding.side else match
    return Match(
        components=match.components,
        condition=finding.condition or text,
        missing=match.missing or finding.missing,
        fine=match.fine,
        severity=match.severity if finding.severity == 2 else finding.severity,
        assumed=match.assumed,
    )


def _unclear(path: Path, text: str, unclear: Unclear) -> Fault:
    return Fault(
        path=path,
        found=f"{shown(text)}: {unclear.reason}",
        do=unclear.do,
        allowed=f"words that mean one part or sign; nearest are {one_of(unclear.candidates)}"
        if unclear.candidates
        else "words that mean one part or sign",
    )


def hit_side(machine: Machine) -> str:
    """`left` or `right` if the machine is said to have been hit on that one side, else empty."""
    sides = [hit for hit in machine.what_hit if hit in ("left", "right")]
    return sides[0] if len(sides) == 1 else ""


def _of_the_rows(machine: Machine, trade: Trade) -> Iterator[Fault]:
    called = {
        name.lower(): one.id for one in trade.components.values() for name in (one.name_us, one.name_uk)
    }
    for name in ("remedies", "parts", "jobs", "readings", "fastenings"):
        for index, row in enumerate(getattr(machine, name)):
            yield from _name((name, index, "component"), row.component, trade.components, "component", called=called)
    for index, part in enumerate(machine.parts):
        yield from _name(("parts", index, "lead_class"), part.lead_class, trade.lead_classes, "lead class")
    for index, job in enumerate(machine.jobs):
        for at, cover in enumerate(job.covers):
            yield from _name(("jobs", index, "covers", at), cover, trade.covers, "cover")
    for index, batch in enumerate(machine.batches):
        for at, component in enumerate(batch.components):
            path: Path = ("batches", index, "components", at)
            yield from _name(path, component, trade.components, "component", called=called)
    for index, errand in enumerate(machine.errands):
        for at, want in enumerate(errand.wants):
            yield from _name(("errands", index, "wants", at), want, trade.preconditions, "precondition of a trip")
    for index, reading in enumerate(machine.readings):
        yield from _name(
            ("readings", index, "proves"), reading.proves, trade.fit_items, "heading of the fit-to-ride list"
        )
    for index, proof in enumerate(machine.proofs):
        yield from _name(("proofs", index, "item"), proof.item, trade.fit_items, "heading of the fit-to-ride list")


def _of_the_keys(machine: Machine, trade: Trade) -> Iterator[Fault]:
    """Keys of work in rows that stand for one, and in loose ends."""
    kinds: dict[str, tuple[Iterable[str], str]] = {
        "standard": (trade.job_times, "piece of standard work"), "look": (trade.checks, "check"),
        "off": (trade.covers, "cover"), "on": (trade.covers, "cover"),
        "after": ([row.id for row in trade.after_ride], "look after the first ride"),
    }
    keys = [(("jobs", index, "stands_for"), job.stands_for) for index, job in enumerate(machine.jobs)]
    keys += [(("loose_ends", index, "work"), end.work) for index, end in enumerate(machine.loose_ends)]
    gates = {gate.id for gate in machine.gates} | set(trade.gates)
    for path, key in keys:
        head, _, rest = key.partition(":")
        if head in kinds:
            yield from _name(path, rest, *kinds[head])
        elif head in ("gate", "way"):
            yield from _name(path, rest.partition(":")[0], gates, "gate of the record or")
        elif head == "part" and ":" in rest:
            yield from _name(path, rest.partition(":")[2], _step_names(trade, None), "step")
        elif head not in ("job", "part", "errand", "batch"):
            yield from _name(path, head, trade.components, "component")
            if rest and head in trade.components:
                yield from _name(path, rest, _step_names(trade, head), f"step of {head} in")


def _step_names(trade: Trade, component: str | None) -> set[str]:
    """Steps that any remedy makes of a component (None: of any): a row may outlive a remedy that was changed."""
    return {
        step.step for (name, _), steps in trade.job_steps.items() if component is None or name in ("", component)
        for step in steps
    }


def _of_the_gates(machine: Machine, trade: Trade) -> Iterator[Fault]:
    for index, gate in enumerate(machine.gates):
        yield from _name(("gates", index, "template"), gate.template, trade.gates, "gate")
    known = {gate.id for gate in machine.gates} | set(trade.gates)
    for index, part in enumerate(machine.parts):
        yield from _name(("parts", index, "held_until_gate"), part.held_until_gate, known, "gate of the record or")
    for index, job in enumerate(machine.jobs):
        yield from _name(("jobs", index, "before_gate"), job.before_gate, known, "gate of the record or")
    for index, errand in enumerate(machine.errands):
        yield from _name(("errands", index, "gate"), errand.gate, known, "gate of the record or")


_CHECKS: tuple[Callable[[Machine, Trade], Iterator[Fault]], ...] = (
    _of_the_machine,
    _of_the_findings,
    _of_the_rows,
    _of_the_keys,
    _of_the_gates,
)
