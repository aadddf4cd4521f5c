"""Small trades made up for the tests of the damage network: by hand, or at random from a seed."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence

from wreckwright.futures.damage import Evidence
from wreckwright.trade.types import Band, Cause, CauseLink, Component, KnockOn, Severity, Sign, Told, Trade


def band(mid: float) -> Band:
    """About the width of the packaged map's bands: 0.8 either way in log-odds."""
    if mid in (0.0, 1.0):
        return Band(mid, mid, mid)
    odds = mid / (1.0 - mid)
    low, high = odds / 2.2255, odds * 2.2255
    return Band(low / (1.0 + low), mid, high / (1.0 + high))


def component(name: str, wear: float = 0.0) -> Component:
    return Component(
        basis="made up", id=name, name_uk=name, name_us=name, zone="front", side="middle", ride="none", run="none",
        looks_0_3=0, hidden=True, seen_from="", look_minutes=1.0, look_how="", bad_looks_like="", practice="",
        used_ok="ok", pattern_ok="ok", repairable=True, price_step=1, usual_remedy="used", lead_class="shelf",
        fit_minutes=1.0, wear_chance=band(wear),
    )


def cause(
    name: str, chance: float, severities: Sequence[tuple[float, float]] = ((1.0, 0.0),), partners: Sequence[str] = ()
) -> Cause:
    return Cause(
        basis="made up", id=name, name=name, is_impact=True, chance=band(chance), may_combine_with=tuple(partners),
        severities=tuple(
            Severity(name=f"level {i}", weight=weight, logodds_shift=shift)
            for i, (weight, shift) in enumerate(severities)
        ),
    )


def sign(
    name: str, group: str, given: Mapping[str, float], otherwise: float, ratios: Mapping[str, float] | None = None
) -> Sign:
    return Sign(
        basis="made up", id=name, text=name, group=group, chance_given_cause=dict(given), chance_otherwise=otherwise,
        component_ratio=dict(ratios or {}),
    )


def make_trade(
    *,
    causes: Sequence[Cause] = (),
    components: Sequence[Component] = (),
    links: Mapping[tuple[str, str], float] | None = None,
    knock_ons: Mapping[tuple[str, str], float] | None = None,
    latents: Sequence[str] = (),
    latent_wear: Mapping[str, float] | None = None,
    signs: Sequence[Sign] = (),
    told: Mapping[tuple[str, str], float] | None = None,
) -> Trade:
    """A trade with nothing in it but what bears on damage. `told` maps (hit, cause) to a chance."""
    return Trade(
        components={row.id: row for row in components},
        causes={row.id: row for row in causes},
        cause_links=tuple(
            CauseLink(basis="made up", cause=a, component=x, chance=band(p)) for (a, x), p in (links or {}).items()
        ),
        knock_ons=tuple(
            KnockOn(basis="made up", if_bad=x, then=y, chance=band(p)) for (x, y), p in (knock_ons or {}).items()
        ),
        latents=tuple(latents),
        latent_wear={name: band(p) for name, p in (latent_wear or {}).items()},
        signs={row.id: row for row in signs},
        told=tuple(Told(basis="made up", hit=hit, cause=a, chance=p) for (hit, a), p in (told or {}).items()),
        checks={}, covers={}, carry_overs={}, renew_withs={}, lead_classes={}, supply_shares=(), price_steps={},
        job_times={}, brand_discounts={}, fee_steps=(), money={}, cautions={}, legal={}, gates={}, fit_items={},
        classes={}, stations={}, sources={},
    )


def random_trade(rng: random.Random, *, most_components: int = 9, most_causes: int = 5) -> Trade:
    """Causes with pairs and severities, knock-ons without circles, latents, sign groups with ratios, things told."""
    components = [f"part_{i}" for i in range(rng.randint(3, most_components))]
    latents = [f"reason_{i}" for i in range(rng.randint(0, 2))]
    causes = [f"cause_{i}" for i in range(rng.randint(2, most_causes))]
    shares = [rng.uniform(0.2, 1.0) for _ in causes]
    whole = sum(shares) / rng.choice([1.0, 0.95, 0.7])

    def chance() -> float:
        return rng.choice([0.0, 1.0, *[rng.uniform(0.01, 0.95)] * 12])

    order = latents + components
    rng.shuffle(order)
    knock_ons = {}
    for i, node in enumerate(order):
        for parent in rng.sample(order[:i], k=min(i, rng.choice([0, 1, 1, 2, 3]))):
            knock_ons[parent, node] = chance()
    signs = []
    for group in range(rng.randint(1, 3)):
        for i in range(rng.randint(1, 3)):
            given = {name: rng.uniform(0.02, 0.98) for name in causes if rng.random() < 0.8}
            if rng.random() < 0.3:
                given["only_worn"] = rng.uniform(0.01, 0.3)
            ratios = {name: rng.uniform(0.3, 12.0) for name in components if rng.random() < 0.3}
            signs.append(sign(f"sign_{group}_{i}", f"group_{group}", given, rng.uniform(0.01, 0.3), ratios))
    return make_trade(
        causes=[
            cause(
                name, share / whole,
                [(rng.uniform(0.1, 1.0), rng.uniform(-2.0, 2.0)) for _ in range(rng.randint(1, 3))],
                [other for other in causes if other != name and rng.random() < 0.3],
            )
            for name, share in zip(causes, shares, strict=True)
        ],
        components=[component(name, rng.choice([0.0, rng.uniform(0.0, 0.2)])) for name in components],
        links={(a, x): chance() for a in causes for x in order if rng.random() < 0.6},
        knock_ons=knock_ons,
        latents=latents,
        latent_wear={name: rng.uniform(0.0, 0.1) for name in latents if rng.random() < 0.5},
        signs=signs,
        told={(hit, a): rng.uniform(0.02, 0.9) for hit in ("left", "front") for a in [*causes, "only_worn"]},
    )


def random_evidence(rng: random.Random, trade: Trade, *, certain: bool = False) -> Evidence:
    """Findings on about half the components, signs seen and not there, something told. `certain`: some are sure."""
    likelihoods = {}
    for name in trade.components:
        if rng.random() < 0.5:
            pair = (rng.uniform(0.02, 1.0), rng.uniform(0.02, 1.0))
            likelihoods[name] = (0.0, 1.0) if certain and rng.random() < 0.1 else pair
    names = list(trade.signs)
    rng.shuffle(names)
    seen = names[: rng.randint(0, len(names))]
    absent = [name for name in names if name not in seen and rng.random() < 0.5]
    told = rng.choice([(), ("left",), ("front",), ("left", "front")])
    return Evidence(likelihoods=likelihoods, signs_seen=tuple(seen), signs_absent=tuple(absent), told=told)
