"""Any machine that obeys the types, the rules and the trade data: what a store may have to keep."""

from __future__ import annotations

import datetime as dt
from typing import Any

from hypothesis import strategies as st
from msgspec.structs import replace

from tests.record.machines import machines
from wreckwright.record.types import Machine
from wreckwright.trade.load import load_trade

TRADE = load_trade()
WORDS = ("left mirror gone", "tank dented", "front rim dinged", "rear turn signal snapped off, right")
LAST_DAY = dt.date(2199, 12, 31)


@st.composite
def fitted_machines(draw: st.DrawFn) -> Machine:
    """The machines of the record's own tests, with names that the trade data know instead of any text."""
    machine = draw(machines())
    rng = draw(st.randoms(use_true_random=False))
    components, covers = sorted(TRADE.components), sorted(TRADE.covers)

    def one(names: Any) -> str:
        return rng.choice(sorted(names))

    def maybe(names: Any) -> str:
        return rng.choice(["", *sorted(names)])

    def finding(row: Any) -> Any:
        component = maybe(components)
        zone = maybe(TRADE.stations)
        what = row.what if component or (row.looked_fine and zone) else rng.choice(WORDS)
        return replace(row, component=component, what=what, zone=zone, side="", check=maybe(TRADE.checks))

    # No component goes with two batches at a time, and no piece of work has two rows.
    batched = iter(rng.sample(components, sum(len(row.components) for row in machine.batches)))
    work = iter(rng.sample([*components, *(f"look:{name}" for name in sorted(TRADE.checks))], len(machine.jobs)))

    return replace(
        machine,
        as_of=LAST_DAY,
        machine_class=one(TRADE.classes),
        mirrored=False,
        covers_off=tuple(rng.sample(covers, len(machine.covers_off))),
        purchase=replace(machine.purchase, brand=maybe(TRADE.brand_discounts)),
        findings=tuple(map(finding, machine.findings)),
        signs=tuple(replace(row, sign=one(TRADE.signs)) for row in machine.signs),
        remedies=tuple(replace(row, component=one(components)) for row in machine.remedies),
        parts=tuple(
            replace(
                row,
                component=maybe(components),
                lead_class=maybe(TRADE.lead_classes),
                held_until_gate=maybe(TRADE.gates),
            )
            for row in machine.parts
        ),
        jobs=tuple(
            replace(
                row,
                component=maybe(components),
                covers=tuple(rng.sample(covers, len(row.covers))),
                before_gate=maybe(TRADE.gates),
                stands_for=next(work) if row.stands_for else "",
            )
            for row in machine.jobs
        ),
        batches=tuple(
            replace(row, components=tuple(next(batched) for _ in row.components)) for row in machine.batches
        ),
        errands=tuple(replace(row, gate=maybe(TRADE.gates)) for row in machine.errands),
        loose_ends=tuple(replace(row, work=maybe(components)) for row in machine.loose_ends),
        gates=tuple(
            replace(row, template=template)
            for row, template in zip(machine.gates, rng.sample(sorted(TRADE.gates), len(machine.gates)), strict=True)
        ),
        readings=tuple(
            replace(row, component=maybe(components), proves=maybe(TRADE.fit_items)) for row in machine.readings
        ),
        fastenings=tuple(replace(row, component=maybe(components)) for row in machine.fastenings),
        proofs=tuple(replace(row, item=one(TRADE.fit_items)) for row in machine.proofs),
    )
