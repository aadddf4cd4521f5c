"""What is known of a machine as a whole, as typed into a form, and the rows that come of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from wreckwright.acts import entry
from wreckwright.acts.checks import check_row
from wreckwright.errors import EntryError
from wreckwright.record.against_trade import find_class
from wreckwright.record.faults import nearest, one_of, shown
from wreckwright.record.types import Machine
from wreckwright.trade.types import Trade

WEEK = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
TODAY_WORDS = ("today", "the day of asking")
_USUAL_CURRENCY = "EUR"


@dataclass(frozen=True, kw_only=True)
class Facts:
    """Typed texts. None: the form does not show this field, and it stays as it is. Empty: it is not known."""

    nickname: str | None = None
    machine_class: str | None = None
    year: str | None = None
    maker_and_model: str | None = None
    currency: str | None = None
    """Three letters. Sums already written are not converted."""
    what_hit: tuple[str, ...] | None = None
    key_starts_it: str | None = None
    """`yes`, `no`, or empty for not known; so are the next two."""
    turns_over: str | None = None
    papers_right: str | None = None
    seen_in: str | None = None
    as_of: str | None = None
    """A day; `today` or empty: always the day of asking."""
    bought: bool | None = None
    price: str | None = None
    fees: str | None = None
    freight: str | None = None
    brand: str | None = None
    """Id of a title brand of the trade data."""
    sound_value: str | None = None
    """What a straight one fetches, most likely."""
    sound_value_low: str | None = None
    """With `sound_value_high`: how far it may be off; both or neither."""
    sound_value_high: str | None = None
    aim: str | None = None
    """`sell` or `keep`"""
    accepted_loss_chance: str | None = None
    """Per cent."""
    hour_value: str | None = None
    weekday_minutes: tuple[str, ...] | None = None
    """Seven times, Monday first; all empty: not known, some empty: nothing on those days."""
    vin: str | None = None
    odometer: str | None = None
    odometer_unit: str | None = None
    """`km` or `mi`"""
    mirrored: bool | None = None
    at_auction: bool | None = None
    days_to_sell: str | None = None
    selling_share: str | None = None
    """Per cent; so is `attendance`."""
    as_it_stands: str | None = None
    part_out: str | None = None
    attendance: str | None = None
    wanted_pay: str | None = None
    workshop_hour: str | None = None
    holding_day: str | None = None
    pace: str | None = None
    """A factor: 1.5 is half as long again as the trade's times."""
    words: str | None = None
    """`uk` or `us`"""


def facts_of(machine: Machine) -> Facts:
    """What stands in a record, as it is typed: read back by `fact_rows`, it changes nothing."""
    currency = machine.currency
    band, one = machine.market.sound_value, machine.market.sound_value_minor
    week = machine.calendar.weekday_minutes

    def money(minor: int | None) -> str:
        return entry.money_text(minor, currency)

    def answer(text: str) -> str:
        return "" if text == "unknown" else text

    return Facts(
        nickname=machine.nickname,
        machine_class=machine.machine_class,
        year=str(machine.year),
        maker_and_model=machine.maker_and_model,
        currency=currency,
        what_hit=machine.what_hit,
        key_starts_it=answer(machine.key_starts_it),
        turns_over=answer(machine.turns_over),
        papers_right=answer(machine.papers_right),
        seen_in=machine.seen_in,
        as_of=machine.as_of.isoformat() if machine.as_of else "",
        bought=machine.purchase.bought,
        price=money(machine.purchase.price_minor),
        fees=money(machine.purchase.fees_minor),
        freight=money(machine.purchase.freight_minor),
        brand=machine.purchase.brand,
        sound_value=money(band.likely_minor if band else one),
        sound_value_low=money(band.low_minor) if band else "",
        sound_value_high=money(band.high_minor) if band else "",
        aim=machine.owner.aim,
        accepted_loss_chance=entry.share_text(machine.owner.accepted_loss_chance),
        hour_value=money(machine.owner.hour_value_minor),
        weekday_minutes=tuple(map(str, week)) if week else ("",) * 7,
        vin=machine.vin,
        odometer=entry.number_text(machine.odometer),
        odometer_unit=machine.odometer_unit,
        mirrored=machine.mirrored,
        at_auction=machine.purchase.at_auction,
        days_to_sell=entry.number_text(machine.market.days_to_sell),
        selling_share=entry.share_text(machine.market.selling_share),
        as_it_stands=money(machine.market.as_it_stands_minor),
        part_out=money(machine.market.part_out_minor),
        attendance=entry.share_text(machine.calendar.attendance),
        wanted_pay=money(machine.owner.wanted_pay_minor),
        workshop_hour=money(machine.owner.workshop_hour_minor),
        holding_day=money(machine.owner.holding_day_minor),
        pace=entry.number_text(machine.owner.pace),
        words=machine.owner.words,
    )


def fact_rows(facts: Facts, trade: Trade, machine: Machine | None) -> dict[str, dict[str, Any]]:
    """Kind of row -> its fields that the form speaks of; None for those that are to be absent.

    `machine` is as it stands now; None: there is none yet. Raises EntryError that names the field.
    """
    currency = machine.currency if machine else _USUAL_CURRENCY
    if facts.currency is not None:
        currency = _currency(facts.currency)
    rows = {
        "machine": _machine(facts, trade, currency),
        "purchase": _purchase(facts, trade, currency),
        "market": _sound_value(facts, currency, machine) | _market(facts, currency),
        "calendar": _calendar(facts),
        "owner": _owner(facts, currency),
    }
    rows = {kind: fields for kind, fields in rows.items() if fields}
    for kind, fields in rows.items():
        check_row(kind, fields)
    return rows


def class_id(text: str, trade: Trade) -> str:
    """The class of machine that is meant, by its id, name or a synonym. Raises EntryError with the nearest ones."""
    found = find_class(text, trade)
    if found is not None:
        return found.id
    names = {word: one.name for one in trade.classes.values() for word in (one.id, one.name, *one.synonyms)}
    near = tuple(dict.fromkeys(names[word] for word in nearest(text, names)))
    raise EntryError(
        f"machine_class: {shown(text.strip())} is no class of machine" if text.strip() else "machine_class: nothing",
        allowed=one_of(one.name for one in trade.classes.values()),
        do=f"choose {one_of(near)}" if near else "choose the class that comes nearest",
        field="machine_class",
    )


def _currency(text: str) -> str:
    currency = text.strip().upper() or _USUAL_CURRENCY
    check_row("machine", {"currency": currency})
    return currency


def _machine(facts: Facts, trade: Trade, currency: str) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    if facts.nickname is not None:
        fields["nickname"] = _needed(facts.nickname, "nickname", "what you call it")
    if facts.machine_class is not None:
        known = find_class(facts.machine_class, trade)
        # A class that is known by another of its names stays as it was written.
        fields["machine_class"] = facts.machine_class.strip() if known else class_id(facts.machine_class, trade)
    if facts.year is not None:
        year = entry.whole(facts.year, "year", least=1900, most=2100)
        fields["year"] = year if year is not None else _needed("", "year", "the model year, such as 2016")
    if facts.maker_and_model is not None:
        fields["maker_and_model"] = facts.maker_and_model.strip() or None
    if facts.currency is not None:
        fields["currency"] = None if currency == _USUAL_CURRENCY else currency
    if facts.what_hit is not None:
        fields["what_hit"] = list(dict.fromkeys(filter(None, facts.what_hit))) or None
    for name in ("key_starts_it", "turns_over", "papers_right"):
        answer = getattr(facts, name)
        if answer is not None:
            fields[name] = None if answer in ("", "unknown") else answer
    if facts.seen_in is not None:
        fields["seen_in"] = None if facts.seen_in in ("", "walk_round") else facts.seen_in
    if facts.as_of is not None:
        typed = facts.as_of.strip().lower()
        day = None if typed in TODAY_WORDS else entry.day(facts.as_of, "as_of")
        fields["as_of"] = day.isoformat() if day else None
    if facts.vin is not None:
        fields["vin"] = facts.vin.strip() or None
    if facts.odometer is not None:
        fields["odometer"] = entry.number(facts.odometer, "odometer")
    if facts.odometer_unit is not None:
        fields["odometer_unit"] = None if facts.odometer_unit in ("", "km") else facts.odometer_unit
    if facts.mirrored is not None:
        fields["mirrored"] = True if facts.mirrored else None
    return fields


def _purchase(facts: Facts, trade: Trade, currency: str) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    if facts.bought is not None:
        fields["bought"] = True if facts.bought else None
    for name in ("price", "fees", "freight"):
        text = getattr(facts, name)
        if text is not None:
            fields[f"{name}_minor"] = entry.money_minor(text, currency, name)
    if facts.at_auction is not None:
        fields["at_auction"] = True if facts.at_auction else None
    if facts.brand is not None:
        brand = facts.brand.strip()
        if brand and brand not in trade.brand_discounts:
            raise EntryError(
                f"brand: {shown(brand)} is no title brand that is known",
                allowed=one_of(trade.brand_discounts),
                do="choose one of these, or leave it empty if it is not known",
                field="brand",
            )
        fields["brand"] = brand or None
    return fields


def _sound_value(facts: Facts, currency: str, machine: Machine | None) -> dict[str, Any]:
    """One figure, or a band; of the two ways to write a sound value the other one is taken out."""
    if facts.sound_value is None:
        return {}
    band_now = machine.market.sound_value if machine else None
    if facts.sound_value_low is None and facts.sound_value_high is None and band_now is not None:
        # A form that shows one figure only, sent back as it was.
        if entry.money_minor(facts.sound_value, currency, "sound_value") == band_now.likely_minor:
            return {}
    likely = _above_zero(entry.money_minor(facts.sound_value, currency, "sound_value"), "sound_value")
    low = entry.money_minor(facts.sound_value_low or "", currency, "sound_value_low")
    high = entry.money_minor(facts.sound_value_high or "", currency, "sound_value_high")
    if low is None and high is None:
        return {"sound_value": None, "sound_value_minor": likely}
    if low is None or high is None or likely is None:
        missing = next(
            name
            for name, figure in (("sound_value", likely), ("sound_value_low", low), ("sound_value_high", high))
            if figure is None
        )
        raise EntryError(
            f"{missing}: nothing, and the others of the three are given",
            allowed="low, likely and high, or the likely figure alone",
            do="fill it in, or empty the low and the high one",
            field=missing,
        )
    if not low <= likely <= high:
        raise EntryError(
            f"sound_value: {facts.sound_value.strip()} does not lie between the low and the high figure",
            allowed="low <= likely <= high",
            do="put the three in order",
            field="sound_value",
        )
    band = {"low_minor": low, "likely_minor": likely, "high_minor": high}
    return {"sound_value": band, "sound_value_minor": None}


def _market(facts: Facts, currency: str) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    if facts.days_to_sell is not None:
        fields["days_to_sell"] = entry.number(facts.days_to_sell, "days_to_sell", most=10_000)
    if facts.selling_share is not None:
        fields["selling_share"] = entry.share(facts.selling_share, "selling_share")
    for name in ("as_it_stands", "part_out"):
        text = getattr(facts, name)
        if text is not None:
            fields[f"{name}_minor"] = entry.money_minor(text, currency, name)
    return fields


def _above_zero(minor: int | None, field: str) -> int | None:
    if minor == 0:
        raise EntryError(
            f"{field}: 0",
            allowed="what a straight one of the same kind fetches, above 0",
            do="type that sum, or leave it empty if it is not known",
            field=field,
        )
    return minor


def _calendar(facts: Facts) -> dict[str, Any]:
    fields = _week(facts)
    if facts.attendance is not None:
        fields["attendance"] = entry.share(facts.attendance, "attendance")
    return fields


def _week(facts: Facts) -> dict[str, Any]:
    if facts.weekday_minutes is None:
        return {}
    typed = facts.weekday_minutes
    if len(typed) != len(WEEK):
        raise EntryError(
            f"weekday_minutes: {len(typed)} times",
            allowed="seven, Monday first",
            do="give one for each day of the week",
            field="weekday_minutes",
        )
    read = [entry.minutes(text, name) for text, name in zip(typed, WEEK, strict=True)]
    if all(one is None for one in read):
        return {"weekday_minutes": None}
    week = [one or 0 for one in read]
    if not any(week):
        raise EntryError(
            "weekday_minutes: 0 on every day",
            allowed="at least one day with work on it",
            do="type the time of at least one day, or leave all empty if it is not known",
            field="weekday_minutes",
        )
    return {"weekday_minutes": week}


def _owner(facts: Facts, currency: str) -> dict[str, Any]:
    fields: dict[str, Any] = {}
    if facts.aim is not None:
        fields["aim"] = None if facts.aim in ("", "sell") else facts.aim
    if facts.accepted_loss_chance is not None:
        fields["accepted_loss_chance"] = entry.share(facts.accepted_loss_chance, "accepted_loss_chance")
    if facts.hour_value is not None:
        fields["hour_value_minor"] = entry.money_minor(facts.hour_value, currency, "hour_value")
    for name in ("wanted_pay", "workshop_hour", "holding_day"):
        text = getattr(facts, name)
        if text is not None:
            fields[f"{name}_minor"] = entry.money_minor(text, currency, name)
    if facts.pace is not None:
        fields["pace"] = entry.number(facts.pace, "pace", most=10)
    if facts.words is not None:
        fields["words"] = None if facts.words in ("", "uk") else facts.words
    return fields


def _needed(text: str, field: str, what: str) -> str:
    if not text.strip():
        raise EntryError(f"{field}: nothing", allowed=what, do="fill it in; it cannot be left out", field=field)
    return text.strip()
