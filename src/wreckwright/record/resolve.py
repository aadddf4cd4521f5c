"""From a record to everything that the later rooms need: read once, filled in once, every default named."""

from __future__ import annotations

import datetime as dt

import msgspec

from wreckwright.errors import AnswerError, RecordError
from wreckwright.record.against_trade import check_against_trade, find_class
from wreckwright.record.defaults import Filler
from wreckwright.record.evidence import QUESTIONS, gather
from wreckwright.record.known import Known, KnownBad, RecordGuess
from wreckwright.record.pace import pace_by_kind
from wreckwright.record.sunk import sunk
from wreckwright.record.types import Gate, GateAnswer, Machine
from wreckwright.record.words import Unclear, Words
from wreckwright.trade.types import MachineClass, Trade

__all__ = ["Known", "KnownBad", "RecordGuess", "resolve"]


def resolve(machine: Machine, trade: Trade, *, as_of: dt.date | None) -> Known:
    """Everything known of a machine on a day, with what is not known filled in by defaults that are named.

    `as_of` goes before the record's own day. For a machine that is `mirrored`, `trade` must be the mirrored data.
    Raises AnswerError if neither names a day, RecordError if the record names things the trade data do not know.

    >>> from wreckwright.record.file import read_record
    >>> from wreckwright.trade.load import load_trade
    >>> machine = read_record(b'nickname = "S"\\nmachine_class = "naked"\\nyear = 2019\\nas_of = 2026-11-20')
    >>> known = resolve(machine, load_trade(), as_of=None)
    >>> known.age_years, known.weekday_minutes, known.attendance_known
    (7, (0, 120, 0, 120, 0, 300, 0), False)
    """
    day = as_of or machine.as_of
    if day is None:
        raise AnswerError(
            f"{machine.nickname}: no day is named for which the answers should hold",
            allowed="a date, in the record or with the question",
            do="add a line such as as_of = 2026-11-20 to the record",
        )
    if machine.mirrored != trade.mirrored:
        raise ValueError("a mirrored machine needs mirrored trade data, and the other way round")
    problems = check_against_trade(machine, trade)
    if problems:
        raise RecordError(problems, name=machine.nickname)
    trade_class = find_class(machine.machine_class, trade)
    assert trade_class is not None
    evidence = gather(machine, trade)
    filler = Filler(machine=machine, trade=trade, trade_class=trade_class, guesses=[])
    hour = filler.workshop_hour()
    sound_value = filler.sound_value(hour)
    hour_value = filler.hour_value()
    gates = _gates(machine, trade, filler)
    spent = sunk(machine, as_of=day)
    price = filler.price(spent.purchase_minor)
    absent = _absent(machine, trade_class, evidence.bad, evidence.put_right)
    signs = _signs(machine, trade)
    return Known(
        machine=machine,
        trade_class=trade_class,
        as_of=day,
        absent=absent,
        bad=evidence.bad,
        put_right=evidence.put_right,
        likelihoods={name: pair for name, pair in evidence.likelihoods.items() if name not in absent},
        fine=evidence.fine - absent,
        signs_seen=tuple(dict.fromkeys(signs[one.id] for one in machine.signs if one.seen)),
        signs_absent=tuple(dict.fromkeys(signs[one.id] for one in machine.signs if not one.seen)),
        told=tuple(dict.fromkeys(machine.what_hit)),
        sound_value_minor=sound_value,
        weekday_minutes=filler.week(),
        days_off=tuple(sorted(set(machine.calendar.days_off))),
        changed=tuple(sorted(machine.calendar.changed, key=lambda one: one.date)),
        attendance=filler.attendance(),
        attendance_known=machine.calendar.attendance is not None,
        workshop_hour_minor=hour,
        hour_value_minor=hour_value,
        wanted_pay_minor=filler.wanted_pay(hour_value),
        holding_day_minor=filler.holding_day(sound_value[1]),
        accepted_loss_chance=filler.accepted_loss_chance(),
        days_to_sell=filler.days_to_sell(),
        selling_share=filler.selling_share(),
        brand=filler.brand(),
        bought=machine.purchase.bought,
        price_minor=price,
        fees_minor=machine.purchase.fees_minor,
        at_auction=machine.purchase.at_auction,
        freight_minor=filler.freight(hour),
        sunk_minor=spent.total_minor,
        age_years=max(0, day.year - machine.year),
        pace=filler.pace(),
        pace_by_kind=pace_by_kind(machine, trade, pace=machine.owner.pace or 1.0),
        mirrored=machine.mirrored,
        gates=gates,
        remedies={row.component: row.remedy for row in machine.remedies},
        parts=tuple(
            msgspec.structs.replace(part, paid_minor=spent.part_minor.get(part.id, 0)) for part in machine.parts
        ),
        jobs=machine.jobs,
        guesses=(*filler.guesses, *evidence.guesses, *spent.guesses),
    )


def _signs(machine: Machine, trade: Trade) -> dict[str, str]:
    """Handle -> sign id."""
    words = Words(trade)
    signs: dict[str, str] = {}
    for row in machine.signs:
        sign = words.sign(row.sign)
        if isinstance(sign, Unclear):
            raise ValueError(f"{sign.reason}; check_against_trade comes first")
        signs[row.id] = sign
    return signs


def _absent(
    machine: Machine, trade_class: MachineClass, bad: tuple[KnownBad, ...], put_right: frozenset[str]
) -> frozenset[str]:
    """What this class lacks, but for what the owner has evidently got in front of him."""
    there = {one.component for one in bad} | put_right
    there |= {
        row.component for rows in (machine.remedies, machine.parts, machine.jobs, machine.readings) for row in rows
    }
    there |= {component for batch in machine.batches for component in batch.components}
    return frozenset(trade_class.absent_components) - there


def _gates(machine: Machine, trade: Trade, filler: Filler) -> tuple[Gate, ...]:
    """The record's own gates filled in, and those that the three quick questions answer.

    A yes answers every gate the question stands for. A no answers one only where the question stands for one gate: that
    the key does not start it has many reasons, and is evidence only (see `wreckwright.record.evidence`).
    """
    answers: dict[str, tuple[str, GateAnswer]] = {}
    for question, (templates, _, _) in QUESTIONS.items():
        answer = getattr(machine, question)
        if answer == "yes" or (answer == "no" and len(templates) == 1):
            answers |= {template: (question, answer) for template in templates if template in trade.gates}
    out: list[Gate] = []
    for gate in machine.gates:
        changes: dict[str, object] = dict(filler.own_gate(gate))
        if gate.template in answers:
            if gate.answer == "unasked":
                changes["answer"] = answers[gate.template][1]
            del answers[gate.template]
        out.append(msgspec.structs.replace(gate, **changes) if changes else gate)
    out.extend(
        Gate(id=f"{question}.{template}", template=template, answer=answer)
        for template, (question, answer) in answers.items()
    )
    return tuple(out)
