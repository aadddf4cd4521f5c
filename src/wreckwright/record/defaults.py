"""What is taken when the record does not say: each default once, with the sentence that names it.

The figures come from the trade data (`Trade.money` and the class of machine), so a model pack can replace them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

from wreckwright.record.known import RecordGuess
from wreckwright.record.money import percent, show_money, to_minor
from wreckwright.record.types import Gate, Machine
from wreckwright.trade.types import MachineClass, Trade

Value = TypeVar("Value")
Week = tuple[int, int, int, int, int, int, int]

# Judgement; where the trade data have no row for it.
ONE_FIGURE_SPREAD = 0.10
"""Low and high of a sound value given in one figure."""
FETCH_KM = 50.0
OWN_GATE_CHANCE = 0.8
OWN_GATE_WAIT_DAYS = 21.0
CAPITAL_TIED_SHARE = 0.5
"""Share of the sound value that is tied up on average, where no price is known."""
NEAR_PAR = frozenset({"EUR", "USD", "GBP", "CHF", "CAD", "AUD", "NZD"})
"""Currencies in which the trade data's workshop hour is of the right size; in others the sound value scales it."""
EVENING_ORDER = (1, 3, 0, 2, 4)
"""Weekdays (Monday 0) on which evenings are put, in turn; the free day is Saturday."""
DAMAGED_BY = frozenset({"left", "right", "front", "rear", "tumble", "water", "fire", "stolen"})


@dataclass(kw_only=True)
class Filler:
    """Chooses between what is written and what is taken instead, and keeps the list of what was taken."""

    machine: Machine
    trade: Trade
    trade_class: MachineClass
    guesses: list[RecordGuess]

    def given(self, field: str, value: Value | None, default: Value, show: Callable[[Value], str], basis: str) -> Value:
        """`value` if there is one; else the default, which is then named."""
        if value is not None:
            return value
        self.guesses.append(RecordGuess(field=field, value=show(default), basis=basis))
        return default

    def figure(self, row: str) -> float:
        return self.trade.money[row].figure.mid

    def basis(self, row: str) -> str:
        return self.trade.money[row].basis

    def money(self, minor: int) -> str:
        return show_money(minor, self.machine.currency)

    def workshop_hour(self) -> int:
        """Minor units an hour."""
        machine, row = self.machine, "workshop_hour_minor"
        value = (
            machine.market.sound_value.likely_minor if machine.market.sound_value else machine.market.sound_value_minor
        )
        if machine.currency in NEAR_PAR or value is None:
            default, basis = to_minor(self.figure(row) / 100.0, machine.currency), self.basis(row)
        else:
            default, basis = (
                round(value / self.trade_class.default_sound_value_hours.mid),
                "judgement, from the sound value",
            )
        return self.given(
            "owner.workshop_hour_minor",
            machine.owner.workshop_hour_minor,
            default,
            lambda minor: f"{self.money(minor)} an hour of a paid workshop",
            basis,
        )

    def sound_value(self, hour_minor: int) -> tuple[int, int, int]:
        """Low, likely, high in minor units."""
        market = self.machine.market
        if market.sound_value is not None:
            return market.sound_value.low_minor, market.sound_value.likely_minor, market.sound_value.high_minor
        if market.sound_value_minor is not None:
            one = market.sound_value_minor
            band = round(one * (1.0 - ONE_FIGURE_SPREAD)), one, round(one * (1.0 + ONE_FIGURE_SPREAD))
            return self.given("market.sound_value", None, band, self._band, "judgement (one figure, 10 % either way)")
        hours = self.trade_class.default_sound_value_hours
        band = round(hours.low * hour_minor), round(hours.mid * hour_minor), round(hours.high * hour_minor)
        return self.given(
            "market.sound_value_minor",
            None,
            band,
            self._band,
            f"{self.trade_class.basis}, for any {self.trade_class.id}",
        )

    def _band(self, band: tuple[int, int, int]) -> str:
        return f"{self.money(band[0])} to {self.money(band[2])}, most likely {self.money(band[1])}, for a straight one"

    def week(self) -> Week:
        """Planned minutes by weekday, Monday first."""
        evenings = min(max(round(self.figure("evenings_per_week")), 0), len(EVENING_ORDER))
        evening, day = round(self.figure("evening_minutes")), round(self.figure("free_day_minutes"))
        minutes = [evening if weekday in EVENING_ORDER[:evenings] else 0 for weekday in range(7)]
        minutes[5] = day
        given = self.machine.calendar.weekday_minutes
        first, second, third, fourth, fifth, sixth, seventh = self.given(
            "calendar.weekday_minutes",
            given,
            tuple(minutes),
            lambda _: f"{evenings} evenings of {evening / 60:g} h and one day of {day / 60:g} h a week",
            self.basis("evening_minutes"),
        )
        return first, second, third, fourth, fifth, sixth, seventh

    def attendance(self) -> float:
        return self.given(
            "calendar.attendance",
            self.machine.calendar.attendance,
            self.figure("attendance"),
            lambda share: f"{percent(share)} of the planned evenings really worked",
            self.basis("attendance"),
        )

    def brand(self) -> str:
        """Title brand id."""
        damaged = not self.machine.what_hit or any(
            hit in DAMAGED_BY or hit == "unknown" for hit in self.machine.what_hit
        )
        default = "repaired_disclosed" if damaged and "repaired_disclosed" in self.trade.brand_discounts else "clean"
        row = self.trade.brand_discounts[default]
        return self.given(
            "purchase.brand",
            self.machine.purchase.brand or None,
            default,
            lambda _: f"{row.name}, {percent(row.share_off.mid)} off the sound value",
            row.basis,
        )

    def freight(self, hour_minor: int) -> int:
        """Minor units; 0 for a machine already bought where none is written down."""
        bought = self.machine.purchase.bought
        near = round(hour_minor * (self.figure("freight_base_hours") + FETCH_KM * self.figure("freight_km_hours_near")))
        return self.given(
            "purchase.freight_minor",
            self.machine.purchase.freight_minor,
            0 if bought else near,
            lambda minor: (
                "no freight, as none is written down" if bought else f"{self.money(minor)} to fetch it {FETCH_KM:g} km"
            ),
            "judgement" if bought else self.basis("freight_base_hours"),
        )

    def holding_day(self, sound_minor: int) -> int:
        """Minor units a day for the money tied up and what the machine loses with age. One's own shed costs nothing;
        who rents, says so."""
        price = self.machine.purchase.price_minor
        tied = price if price is not None else CAPITAL_TIED_SHARE * sound_minor
        yearly = self.figure("holding_capital_per_year") * tied + self.figure("value_loss_per_year") * sound_minor
        return self.given(
            "owner.holding_day_minor",
            self.machine.owner.holding_day_minor,
            round(yearly / 365.0),
            lambda minor: f"{self.money(minor)} a day for the money tied up and what it loses with age",
            self.basis("holding_capital_per_year"),
        )

    def hour_value(self) -> int:
        return self.given(
            "owner.hour_value_minor",
            self.machine.owner.hour_value_minor,
            0,
            lambda minor: f"{self.money(minor)} for an hour of own work",
            "common practice",
        )

    def wanted_pay(self, hour_value_minor: int) -> int:
        """Minor units an hour: what an hour is worth to the owner, if that is known, else nothing."""
        return self.given(
            "owner.wanted_pay_minor",
            self.machine.owner.wanted_pay_minor,
            hour_value_minor,
            lambda minor: f"{self.money(minor)} an hour wanted",
            "common practice",
        )

    def accepted_loss_chance(self) -> float:
        return self.given(
            "owner.accepted_loss_chance",
            self.machine.owner.accepted_loss_chance,
            self.figure("accepted_loss_chance"),
            lambda share: f"a loss in {percent(share)} of cases is accepted",
            self.basis("accepted_loss_chance"),
        )

    def days_to_sell(self) -> float:
        return self.given(
            "market.days_to_sell",
            self.machine.market.days_to_sell,
            self.figure("days_to_sell"),
            lambda days: f"{days:g} days to sell",
            self.basis("days_to_sell"),
        )

    def selling_share(self) -> float:
        return self.given(
            "market.selling_share",
            self.machine.market.selling_share,
            self.figure("selling_share"),
            lambda share: f"{percent(share)} of the price for selling",
            self.basis("selling_share"),
        )

    def pace(self) -> float:
        return self.given(
            "owner.pace",
            self.machine.owner.pace,
            1.0,
            lambda _: "the trade's own working times, neither faster nor slower",
            "judgement",
        )

    def price(self, paid_in_purse_minor: int) -> int | None:
        """Minor units, None if not known; that is named for a machine already bought, as the loss leaves it out.

        `paid_in_purse_minor`: what the purse says has been paid for the machine; without a price it is the price, but
        for fees and freight.
        """
        bought = self.machine.purchase
        if bought.bought and bought.price_minor is None and paid_in_purse_minor:
            return max(0, paid_in_purse_minor - (bought.fees_minor or 0) - (bought.freight_minor or 0))
        if bought.bought and bought.price_minor is None:
            self.guesses.append(
                RecordGuess(
                    field="purchase.price_minor", value="nothing paid, as no price is written down", basis="judgement"
                )
            )
        if bought.bought and bought.at_auction and bought.fees_minor is None:
            self.guesses.append(
                RecordGuess(field="purchase.fees_minor", value="no fees, as none are written down", basis="judgement")
            )
        return bought.price_minor

    def own_gate(self, gate: Gate) -> dict[str, float]:
        """What is missing of a gate that the owner worded: chance of a yes, and days until an outside answer."""
        filled: dict[str, float] = {}
        if gate.template or gate.answer != "unasked":
            return filled
        if gate.chance_yes is None:
            filled["chance_yes"] = self.given(
                f"gates.{gate.id}.chance_yes",
                None,
                OWN_GATE_CHANCE,
                lambda chance: f"yes in {percent(chance)} of cases",
                "judgement",
            )
        if gate.kind == "outside" and gate.expected_on is None and gate.wait_days is None:
            filled["wait_days"] = self.given(
                f"gates.{gate.id}.wait_days",
                None,
                OWN_GATE_WAIT_DAYS,
                lambda days: f"{days:g} days until the answer",
                "judgement",
            )
        return filled
