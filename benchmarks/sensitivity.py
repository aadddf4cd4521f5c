"""How often would another map of damage, as plausible as ours, give another answer?

Every chance of the map is a judgement with a band. This redraws the whole map within its bands, a common error for all
figures and each figure's own, and asks the example machines again, on the same random numbers. In each redraw the map
is taken as exactly true (bands closed up), so the error is not counted twice; it is compared with what the program
says, which allows for the error of the map by drawing over several versions of it.

    python benchmarks/sensitivity.py [--redraws 200] [--futures 2000] [--out benchmarks/results/sensitivity.json]
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import numpy.typing as npt

from wreckwright.acts.ask import Opened, Question, open_machine
from wreckwright.answers.bid import bid
from wreckwright.answers.verdict import verdict
from wreckwright.futures.draw import draw, play
from wreckwright.futures.map_error import redraw_shifts, redraw_trade
from wreckwright.trade.types import Band, Trade

HERE = Path(__file__).resolve().parent
MACHINES = ("sorrel", "bramble", "magpie")
LEAST_CORRELATION = 0.3
FEWEST_FOR_CORRELATION = 100
MOST_NAMED = 5


@dataclass(frozen=True, kw_only=True)
class Said:
    """What was said of one machine under one map."""

    choice: str
    leaning: str
    hours_free_choice: str
    lead_minor: int
    """Worth of carrying on less the better of the other two."""
    walk_away_minor: int | None
    price_for_loss_minor: int | None
    loss_at_price: float | None
    shifts: Mapping[str, float]
    """Shift of each of the map's figures in log-odds: above 0, likelier to be bad. Empty for the map as it stands."""


def closed(trade: Trade) -> Trade:
    """The same map with every band closed up to its middle."""
    replace = msgspec.structs.replace

    def point(band: Band) -> Band:
        return Band(low=band.mid, mid=band.mid, high=band.mid)

    return replace(
        trade,
        causes={cause.id: replace(cause, chance=point(cause.chance)) for cause in trade.causes.values()},
        components={part.id: replace(part, wear_chance=point(part.wear_chance)) for part in trade.components.values()},
        cause_links=tuple(replace(link, chance=point(link.chance)) for link in trade.cause_links),
        latent_wear={name: point(band) for name, band in trade.latent_wear.items()},
        knock_ons=tuple(replace(knock_on, chance=point(knock_on.chance)) for knock_on in trade.knock_ons),
    )


def ask(opened: Opened, trade: Trade, *, n_futures: int, shifts: Mapping[str, float]) -> Said:
    futures = play(draw(opened.known, trade, n=n_futures))
    judged, offered = verdict(futures), bid(futures)
    worth = {option.name: option.worth_minor for option in judged.reckoning.options}
    return Said(
        choice=judged.choice,
        leaning=judged.leaning,
        hours_free_choice=judged.hours_free.choice,
        lead_minor=worth["carry_on"] - max(worth["sell_as_it_stands"], worth["part_out"]),
        walk_away_minor=offered.walk_away_minor,
        price_for_loss_minor=offered.price_for_loss_minor,
        loss_at_price=None if offered.at_price is None else offered.at_price.loss_chance,
        shifts=shifts,
    )


def compare(base: Said, redrawn: list[Said], *, price_minor: int | None, sound_minor: float) -> dict[str, Any]:
    """Shares of the redraws in which something else is said."""
    n = len(redrawn)

    def share(count: int) -> float:
        return round(count / n, 3)

    def pays(said: Said) -> bool | None:
        return None if price_minor is None else (said.walk_away_minor or 0) >= price_minor

    def middle_80(minor: Sequence[int | None]) -> list[int]:
        return [round(float(x)) for x in np.quantile([x or 0 for x in minor], [0.1, 0.5, 0.9])]

    leads = np.array([said.lead_minor for said in redrawn], dtype=np.float64)
    decided = [said for said in redrawn if said.choice != "too_close_to_call"]
    return {
        "said": base.choice,
        "said_leaning": base.leaning,
        "said_walk_away_minor": base.walk_away_minor,
        "price_minor": price_minor,
        "choices": dict(Counter(said.choice for said in redrawn)),
        "other_choice": share(sum(said.choice != base.choice for said in redrawn)),
        "other_choice_both_clear": share(
            sum(said.choice != base.choice for said in decided) if base.choice != "too_close_to_call" else 0
        ),
        "other_leaning": share(sum(said.leaning != base.leaning for said in redrawn)),
        "other_choice_hours_free": share(sum(said.hours_free_choice != base.hours_free_choice for said in redrawn)),
        "price_on_other_side_of_walk_away": (
            None if price_minor is None else share(sum(pays(said) != pays(base) for said in redrawn))
        ),
        "no_price_at_all": share(sum(said.walk_away_minor is None for said in redrawn)),
        "walk_away_p10_p50_p90_minor": middle_80([said.walk_away_minor for said in redrawn]),
        "said_price_for_loss_minor": base.price_for_loss_minor,
        "price_for_loss_p10_p50_p90_minor": middle_80([said.price_for_loss_minor for said in redrawn]),
        "lead_of_carrying_on_p10_p50_p90_share_of_sound_value": [
            round(float(x) / sound_minor, 3) for x in np.quantile(leads, [0.1, 0.5, 0.9])
        ],
        "said_lead_of_carrying_on_share_of_sound_value": round(base.lead_minor / sound_minor, 3),
        "loss_at_price_p10_p50_p90": (
            None if base.loss_at_price is None
            else [round(float(x), 3) for x in np.quantile([said.loss_at_price for said in redrawn], [0.1, 0.5, 0.9])]
        ),
        "said_loss_at_price": base.loss_at_price,
        "lead_goes_with": goes_with(leads, redrawn),
    }


def goes_with(leads: npt.NDArray[np.float64], redrawn: list[Said]) -> dict[str, float]:
    """Correlation of the lead of carrying on with the map's common error, and then with single figures beyond it.

    With 200 redraws and some 900 figures luck alone reaches 0.25, so only what passes `LEAST_CORRELATION` is told.
    """
    if leads.std() == 0.0 or len(redrawn) < FEWEST_FOR_CORRELATION:
        return {}
    names = sorted(redrawn[0].shifts)
    shifts = np.array([[said.shifts[name] for name in names] for said in redrawn])
    mean = shifts.mean(axis=1)
    found = {"mean of all figures": round(float(np.corrcoef(leads, mean)[0, 1]), 2)}
    centred = mean - mean.mean()
    left = leads - leads.mean()
    left = left - centred * (centred @ left) / (centred @ centred)
    own = shifts - shifts.mean(axis=0)
    own = own - np.outer(centred, centred @ own) / (centred @ centred)
    r = (left @ own) / np.sqrt((left @ left) * (own**2).sum(axis=0))
    for i in np.argsort(-np.abs(r))[:MOST_NAMED]:
        if abs(r[i]) >= LEAST_CORRELATION:
            found[names[i]] = round(float(r[i]), 2)
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--redraws", type=int, default=200)
    parser.add_argument("--futures", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--out", type=Path, default=HERE / "results" / "sensitivity.json")
    options = parser.parse_args()
    results: dict[str, Any] = {"redraws": options.redraws, "futures": options.futures, "machines": {}}
    for name in MACHINES:
        began = time.perf_counter()
        opened = open_machine(Question(path=HERE.parent / "examples" / f"{name}.toml"))
        base = ask(opened, opened.trade, n_futures=options.futures, shifts={})
        redrawn = []
        for i in range(options.redraws):
            trade = closed(redraw_trade(opened.trade, seed=options.seed, i=i))
            shifts = redraw_shifts(opened.trade, seed=options.seed, i=i)
            redrawn.append(ask(opened, trade, n_futures=options.futures, shifts=shifts))
            if sys.stderr.isatty():
                print(f"\r{name}: {i + 1} of {options.redraws}", end="", file=sys.stderr, flush=True)
        results["machines"][name] = compare(
            base, redrawn, price_minor=opened.known.price_minor, sound_minor=opened.known.sound_value_minor[1]
        )
        print(f"\n{name} ({time.perf_counter() - began:.0f} s)")
        for key, value in results["machines"][name].items():
            print(f"  {key}: {value}")
    options.out.parent.mkdir(parents=True, exist_ok=True)
    options.out.write_text(json.dumps(results, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
