"""Everything that must hold between the rows of trade data; the first thing that does not is told, with its cure.

Single cells are checked while they are read (`wreckwright.trade.tables`); here it is references, sums, orders, circles.
"""

from __future__ import annotations

import difflib
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping

from wreckwright.errors import TradeDataError
from wreckwright.trade.graph import find_circle, opening_order
from wreckwright.trade.types import Component, Trade
from wreckwright.trade.validate_work import check_work

ONLY_WORN = "only_worn"
"""Stands for "nothing happened to it" wherever a cause can stand; what the causes leave over of 1."""
HITS = ("left", "right", "front", "rear", "tumble", "water", "stood", "fire", "stripped", "stolen", "unknown")
PRICE_STEPS = tuple(range(1, 8))
STATION_ORDERS = tuple(range(1, 9))
SIDES = ("left", "right")
FEWEST_REGIONS, MOST_REGIONS = 4, 7
"""Fewer than that is no help in finding a part, more than that leaves no room for a finger."""
_SUM_SLACK = 1e-6


def check_trade(trade: Trade) -> None:
    """Raise `TradeDataError` for the first thing in `trade` that does not fit the rest; silent when all fits."""
    _check_components(trade)
    _check_words(trade)
    _check_causes(trade)
    _check_knock_ons(trade)
    _check_signs_and_told(trade)
    _check_covers(trade)
    _check_checks(trade)
    _check_pieces(trade)
    _check_supply(trade)
    _check_prices(trade)
    _check_gates(trade)
    _check_cautions(trade)
    _check_fit_list(trade)
    _check_classes(trade)
    _check_stations(trade)
    _check_regions(trade)
    check_work(trade, _known)


def _refuse(what: str, allowed: str, do: str) -> TradeDataError:
    return TradeDataError(what, allowed, do)


def _known(place: str, column: str, names: Iterable[str], known: Iterable[str], kind: str) -> None:
    held = known if isinstance(known, Mapping | set | frozenset) else set(known)
    for name in names:
        if name not in held:
            near = difflib.get_close_matches(name, list(held), n=1, cutoff=0.4)
            raise _refuse(
                f"{place}: {column} names {name!r}, which is no {kind}",
                f"the id of a {kind}",
                f"Did you mean {near[0]!r}?" if near else f"Add that {kind}, or take the name out",
            )


def _once(place: str, names: Iterable[str], kind: str) -> None:
    twice = [name for name, count in Counter(names).items() if count > 1]
    if twice:
        raise _refuse(f"{place}: {kind} {twice[0]!r} stands there twice", "once", "Take one of the two out")


def _check_components(trade: Trade) -> None:
    detected = {seen.component for check in trade.checks.values() for seen in check.detects}
    for row in trade.components.values():
        place = f"components, row {row.id}"
        _known(place, "covers", row.covers, trade.covers, "cover")
        _known(place, "lead_class", [row.lead_class], trade.lead_classes, "lead class")
        heading = [row.fit_to_ride] if row.fit_to_ride else []
        _known(place, "fit_to_ride", heading, trade.fit_items, "fit-to-ride heading")
        if row.ride == "stop" and not row.fit_to_ride:
            raise _refuse(
                f"{place}: ride is 'stop' but fit_to_ride is empty",
                "a heading of the fit-to-ride list for everything that must not be ridden with",
                "Name the heading, or set ride to 'limit'",
            )
        if row.id not in detected:
            raise _refuse(
                f"{place}: no check looks at it", "at least one row in check_detects",
                "Add it to a check that would show it",
            )
        _check_mirror(trade, row)
        _check_remedy(row)


def _check_mirror(trade: Trade, row: Component) -> None:
    place = f"components, row {row.id}"
    _known(place, "mirror", [row.mirror] if row.mirror else [], trade.components, "component")
    if row.mirror:
        other = trade.components[row.mirror]
        if other.mirror != row.id or {row.side, other.side} != {"left", "right"}:
            raise _refuse(
                f"{place}: its mirror {other.id} is on the side {other.side!r} and has the mirror {other.mirror!r}",
                "two components, one left and one right, that name each other",
                "Correct side or mirror in both rows",
            )
    if row.when_mirrored == "swaps" and (
        not row.mirror or trade.components[row.mirror].when_mirrored != "swaps"
    ):
        raise _refuse(
            f"{place}: when_mirrored is 'swaps', but its mirror {row.mirror!r} does not swap with it",
            "a mirror that swaps too",
            "Set both rows to 'swaps', or this one to 'moves' or 'stays'",
        )


def _check_remedy(row: Component) -> None:
    ruled_out = {
        "used": row.used_ok == "no", "pattern": row.pattern_ok == "no", "repair": not row.repairable,
    }.get(row.usual_remedy, False)
    if ruled_out:
        raise _refuse(
            f"components, row {row.id}: usual_remedy is {row.usual_remedy!r}, which the row itself rules out",
            "a remedy that used_ok, pattern_ok and repairable allow",
            "Correct one of the two",
        )


def _check_words(trade: Trade) -> None:
    """A word means one component, or the two of a mirrored pair."""
    meant: dict[str, list[str]] = defaultdict(list)
    for row in trade.components.values():
        for word in row.synonyms:
            meant[word.lower()].append(row.id)
    for word, ids in meant.items():
        if len(ids) > 1 and not (len(ids) == 2 and trade.components[ids[0]].mirror == ids[1]):
            raise _refuse(
                f"components: the word {word!r} means {' and '.join(ids)}", "one component, or a left and right pair",
                "Take the word out of one of the rows",
            )


def _check_causes(trade: Trade) -> None:
    if ONLY_WORN in trade.causes:
        raise _refuse(
            f"causes, row {ONLY_WORN}: the id stands for what the causes leave over", "any other id", "Rename the cause"
        )
    for cause in trade.causes.values():
        place = f"causes, row {cause.id}"
        _known(place, "may_combine_with", cause.may_combine_with, trade.causes, "cause")
        _once(place, (*cause.may_combine_with, cause.id), "cause")
        weight = sum(level.weight for level in cause.severities)
        if abs(weight - 1.0) > _SUM_SLACK:
            raise _refuse(
                f"severities, cause {cause.id}: the weights add up to {weight:g}", "exactly 1", "Correct a weight"
            )
    total = sum(cause.chance.mid for cause in trade.causes.values())
    if total > 1.0 + _SUM_SLACK:
        raise _refuse(
            f"causes: the middle chances add up to {total:g}", f"at most 1; what is left over is {ONLY_WORN}",
            "Lower a chance",
        )
    nodes = {*trade.components, *trade.latents}
    for link in trade.cause_links:
        place = f"cause_links, row {link.cause} / {link.component}"
        _known(place, "cause", [link.cause], trade.causes, "cause")
        _known(place, "component", [link.component], nodes, "component")


def _check_knock_ons(trade: Trade) -> None:
    both = sorted(set(trade.latents) & set(trade.components))
    if both:
        raise _refuse(f"common_parents, row {both[0]}: the id is a component's too", "an id of its own", "Rename it")
    nodes = {*trade.components, *trade.latents}
    before: dict[str, list[str]] = {}
    for row in trade.knock_ons:
        _known(f"knock_ons, row {row.if_bad} / {row.then}", "the row", [row.if_bad, row.then], nodes, "component")
        before.setdefault(row.then, []).append(row.if_bad)
    _no_circle("knock_ons", before, "Take one of the rows out, or give the parts a common parent (common_parents)")


def _no_circle(table: str, before: Mapping[str, Iterable[str]], do: str) -> None:
    circle = find_circle(before)
    if circle:
        raise _refuse(f"{table}: the rows go round in a circle: {' < '.join(circle)}", "rows that end somewhere", do)


def _check_signs_and_told(trade: Trade) -> None:
    for sign in trade.signs.values():
        place = f"signs, row {sign.id}"
        _known(place, "a row of sign_chances", sign.chance_given_cause, trade.causes, "cause")
        _known(place, "a row of sign_ratios", sign.component_ratio, trade.components, "component")
    causes = {*trade.causes, ONLY_WORN}
    sums: dict[str, float] = dict.fromkeys(causes, 0.0)
    for row in trade.told:
        place = f"told, row {row.hit} / {row.cause}"
        _known(place, "hit", [row.hit], HITS, "kind of hit")
        _known(place, "cause", [row.cause], causes, "cause")
        sums[row.cause] += row.chance
    for cause, total in sums.items():
        if abs(total - 1.0) > _SUM_SLACK:
            raise _refuse(
                f"told, cause {cause}: the chances of what is said add up to {total:g}", "exactly 1 for every cause",
                "Correct the rows of that cause, or add them",
            )


def _check_covers(trade: Trade) -> None:
    for cover in trade.covers.values():
        place = f"covers, row {cover.id}"
        _known(place, "under", cover.under, trade.covers, "cover")
        _known(place, "exposes", cover.exposes, trade.components, "component")
    _no_circle("covers", {cover.id: cover.under for cover in trade.covers.values()}, "Correct a cell of under")


def _check_checks(trade: Trade) -> None:
    for check in trade.checks.values():
        place = f"checks, row {check.id}"
        _known(place, "covers", check.covers, trade.covers, "cover")
        _known(place, "only_after", check.only_after, trade.checks, "check")
        _known(place, "unblocked_by", check.unblocked_by, trade.checks, "check")
        _known(place, "blocked_over", check.blocked_over, trade.causes, "cause")
        _known(place, "rough_for", [check.rough_for] if check.rough_for else [], trade.gates, "gate")
        seen_by = f"check_detects, check {check.id}"
        _known(seen_by, "component", (seen.component for seen in check.detects), trade.components, "component")
        if check.blocked_over and not check.unblocked_by:
            raise _refuse(
                f"{place}: blocked_over is given, but nothing in unblocked_by",
                "at least one check that lifts the block",
                "Name the check after which it may be done",
            )
        for seen in check.detects:
            if seen.sensitivity <= seen.false_alarm:
                raise _refuse(
                    f"check_detects, row {check.id} / {seen.component}: sensitivity {seen.sensitivity:g} is not above"
                    f" false_alarm {seen.false_alarm:g}",
                    "a look that cries more often when the part is bad than when it is sound",
                    "Correct one of the two",
                )
    before = {check.id: check.only_after for check in trade.checks.values()}
    _no_circle("checks", before, "Correct a cell of only_after")


def _check_pieces(trade: Trade) -> None:
    for table, rows in (("carry_over", trade.carry_overs), ("renew_with", trade.renew_withs)):
        _known(table, "component", rows, trade.components, "component")


def _check_supply(trade: Trade) -> None:
    for row in trade.lead_classes.values():
        if row.p90_days <= row.median_days:
            raise _refuse(
                f"lead_classes, row {row.id}: p90_days {row.p90_days:g} is not above median_days {row.median_days:g}",
                "a 90 % point above the median", "Correct one of the two",
            )
    sums: dict[int, float] = defaultdict(float)
    for share in trade.supply_shares:
        place = f"supply, row {share.machine_age_from_years} / {share.lead_class}"
        _known(place, "lead_class", [share.lead_class], trade.lead_classes, "lead class")
        sums[share.machine_age_from_years] += share.share
    if 0 not in sums:
        raise _refuse("supply: no rows from age 0", "rows that start at machine_age_from_years 0", "Add them")
    for age, total in sums.items():
        if abs(total - 1.0) > _SUM_SLACK:
            raise _refuse(f"supply, age {age}: the shares add up to {total:g}", "exactly 1", "Correct a share")


def _check_prices(trade: Trade) -> None:
    if tuple(sorted(trade.price_steps)) != PRICE_STEPS:
        raise _refuse(
            f"price_steps: steps {sorted(trade.price_steps)}", "each of 1 to 7 once", "Add the missing steps"
        )
    shares = [trade.price_steps[step].new_share_of_sound_value.mid for step in PRICE_STEPS]
    if shares != sorted(set(shares)):
        raise _refuse(
            f"price_steps: the middle shares are {shares}", "shares that rise from step to step", "Correct a share"
        )
    starts = [step.from_hours for step in trade.fee_steps]
    if starts != sorted(set(starts)) or starts[:1] != [0.0]:
        raise _refuse(f"fee_steps: from_hours are {starts}", "rising figures from 0", "Correct from_hours")


def _check_gates(trade: Trade) -> None:
    papers = {*trade.cautions, *trade.legal}
    for gate in trade.gates.values():
        place = f"gates, row {gate.id}"
        _known(place, "fails_with", gate.fails_with, trade.components, "component")
        _known(place, "covers_off", gate.covers_off, trade.covers, "cover")
        _known(place, "covers_on", gate.covers_on, trade.covers, "cover")
        _known(place, "cautions", gate.cautions, papers, "caution or legal row")
        _known(place, "rough_check", [gate.rough_check] if gate.rough_check else [], trade.checks, "check")
        _known(place, "ways_round", (way.lead_class for way in gate.ways_round), trade.lead_classes, "lead class")
        if gate.kind == "outside":
            _known(place, "lead_class", [gate.lead_class], trade.lead_classes, "lead class")
        if gate.rough_check and trade.checks[gate.rough_check].rough_for != gate.id:
            raise _refuse(
                f"{place}: rough_check {gate.rough_check} is rough_for"
                f" {trade.checks[gate.rough_check].rough_for or 'nothing'!r}",
                "a check and a gate that name each other", "Correct rough_check or rough_for",
            )
        opening = set(opening_order(trade.covers, gate.covers_off))
        clash = sorted(
            cover for cover in opening if set(opening_order(trade.covers, [cover])) & set(gate.covers_on)
        )
        if clash:
            raise _refuse(
                f"{place}: {clash[0]} must be off for the test and on for it", "one of the two",
                "Take it out of covers_off or covers_on",
            )
    orders = [gate.order for gate in trade.gates.values() if gate.kind == "bench"]
    _once("gates", map(str, orders), "bench order")


def _check_cautions(trade: Trade) -> None:
    known = {*trade.covers, *trade.checks, *trade.job_times, *trade.components, *trade.stations}
    for caution in trade.cautions.values():
        place = f"cautions, row {caution.id}"
        _known(place, "applies_to", caution.applies_to, known, "cover, check, job, component or station")


def _check_fit_list(trade: Trade) -> None:
    held = {row.fit_to_ride for row in trade.components.values()}
    for item in trade.fit_items:
        if item not in held:
            raise _refuse(
                f"fit_to_ride, row {item}: no component belongs to it", "at least one component",
                "Name it in fit_to_ride of a component",
            )


def _check_classes(trade: Trade) -> None:
    words: list[str] = []
    for row in trade.classes.values():
        _known(f"classes, row {row.id}", "absent_components", row.absent_components, trade.components, "component")
        words += [row.id, *(word.lower() for word in row.synonyms if word.lower() != row.id)]
    _once("classes", words, "word")


def _check_stations(trade: Trade) -> None:
    orders = sorted(row.order for row in trade.stations.values())
    if tuple(orders) != STATION_ORDERS:
        raise _refuse(f"stations: orders {orders}", "eight stations, 1 to 8", "Number them in walking order")
    seen: list[str] = []
    signs: list[str] = []
    for row in trade.stations.values():
        place = f"stations, row {row.id}"
        _known(place, "components", row.components, trade.components, "component")
        _known(place, "signs", row.signs, trade.signs, "sign")
        seen += row.components
        signs += row.signs
    _once("stations", seen, "component")
    _once("stations", signs, "sign")
    left_out = [row.id for row in trade.components.values() if not row.hidden and row.id not in set(seen)]
    left_out += [sign for sign in trade.signs if sign not in set(signs)]
    if left_out:
        raise _refuse(
            f"stations: {left_out[0]} stands at no station",
            "everything that can be seen, and every sign, at one station",
            "Add it to a station",
        )


def _check_regions(trade: Trade) -> None:
    _known("station_regions", "station", trade.station_regions, trade.stations, "station")
    for station, regions in trade.station_regions.items():
        place = f"station_regions, station {station}"
        if not FEWEST_REGIONS <= len(regions) <= MOST_REGIONS:
            raise _refuse(
                f"{place}: {len(regions)} regions", f"{FEWEST_REGIONS} to {MOST_REGIONS}",
                "Put small ones together, or divide a large one",
            )
        _once(place, (str(region.order) for region in regions), "order")
        _once(place, (region.name for region in regions), "name")
        inside = [component for region in regions for component in region.components]
        _known(place, "components", inside, trade.stations[station].components, f"component seen from {station}")
        _once(place, inside, "component")
        left_out = [component for component in trade.stations[station].components if component not in inside]
        empty = [region.region for region in regions if not region.components]
        if left_out or empty:
            raise _refuse(
                f"{place}: {left_out[0]} lies in no region" if left_out else f"{place}: nothing lies in {empty[0]}",
                "every component of a station in exactly one of its regions, and no region empty",
                "Add a component to a region",
            )
    _check_regions_can_be_mirrored(trade)


def _check_regions_can_be_mirrored(trade: Trade) -> None:
    left, right = ({row.region: row for row in trade.station_regions.get(f"{side}_flank", ())} for side in SIDES)
    for name in sorted(set(left) ^ set(right)):
        row = left.get(name) or right[name]
        moving = {trade.components[component].when_mirrored == "moves" for component in row.components}
        if len(moving) > 1:
            raise _refuse(
                f"station_regions, row {row.station} / {name}: on a mirrored machine some of its components change"
                " sides and some do not, and there is no region of that name across from it",
                "all of them or none, or a region of the same name on the other flank",
                "Divide the region, or add one on the other flank",
            )
