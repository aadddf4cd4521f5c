"""Pieces of answers in words, as the terminal and the pages say them alike."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from wreckwright.acts.saying import driver_words
from wreckwright.papers.words import percent, sentence

if TYPE_CHECKING:
    from wreckwright.answers.types import (
        ChanceEnd,
        ChanceOf,
        DayQuantile,
        Driver,
        FitEntry,
        MoneySpread,
        StopPoint,
        Suspect,
    )

DRIVERS_SHOWN, ENTRY_SUSPECTS_SHOWN = 4, 3
FIT_STATES = ("not touched but suspected", "not proved", "proved")
"""In the order in which they are read."""
JUDGEMENT, FOUND = ", trade judgement", "found bad"
RARE = 0.01
Say = Callable[[int | None], str]
"""A sum in words."""


def spread_words(spread: MoneySpread, say: Say) -> str:
    """How much is left over."""
    low, middle, high = say(spread.p20_minor), say(spread.p50_minor), say(spread.p80_minor)
    return f"half above {middle}; 8 in 10 above {low}, 2 in 10 above {high}"


def cost_words(spread: MoneySpread, say: Say) -> str:
    """How much it takes."""
    return f"half below {say(spread.p50_minor)}; 8 in 10 below {say(spread.p80_minor)}"


def in_futures(chance: ChanceOf) -> str:
    """`about 4 in 10` counts futures; words without a count stand alone."""
    return f"in {chance.words} futures" if chance.words[-1].isdigit() else chance.words


def by(quantile: DayQuantile) -> str:
    """Until when."""
    return f"in {quantile.words}" if quantile.days is None else f"by {quantile.words}"


def end_items(ends: Sequence[ChanceEnd]) -> list[str]:
    """Those that happen in one future of a hundred or more; how many others there are."""
    likely = [end for end in ends if end.chance >= RARE]
    items = [f"{percent(end.chance)}: {end.how}" for end in likely]
    rare = len(ends) - len(likely)
    return [*items, f"{rare} other way{'s' if rare > 1 else ''}, each under 1 %"] if rare else items


def driver_items(drivers: Sequence[Driver]) -> list[str]:
    """Only those that stand out from chance."""
    clear = [driver for driver in drivers if driver.share > 2 * driver.share_se and driver.share >= 0.01]
    return [f"{percent(driver.share)} of the spread: {driver_words(driver.name)}" for driver in clear[:DRIVERS_SHOWN]]


def stop_words(point: StopPoint, say: Say) -> str:
    """When one would stop, and how often."""
    words = f"{percent(point.stop_chance)} {point.when}"
    stopped, carried_on = point.spend_if_stopped_minor, point.spend_if_carried_on_minor
    # Shown where it explains the stop: where it is the dearer machines that are stopped.
    if stopped is not None and carried_on is not None and stopped > carried_on:
        words += f" (then about {say(stopped)} still to spend, against {say(carried_on)} where it goes on)"
    return words


def basis_words(basis: str) -> str:
    """Where a figure comes from, fit to stand in brackets, for there are no brackets inside brackets.

    >>> basis_words("judgement (one figure, 10 % either way)")
    'judgement, one figure, 10 % either way'
    """
    return basis.replace(" (", ", ").removesuffix(")")


def name_of(suspect: Suspect, names: Mapping[str, str]) -> str:
    """A component or cause by its name in the owner's words."""
    return names.get(suspect.component, suspect.component.replace("_", " "))


@dataclass(frozen=True, kw_only=True)
class FitWords:
    """One heading of the fit-to-ride list in words."""

    name: str
    reason: str
    """Why it stands where it stands; empty where `lines` say it."""
    lines: tuple[str, ...]
    """Sentences: what proved it, what is bad or suspected, which paper is wanted."""
    to_prove: str
    """What hands have to do; empty once it is proved."""


def fit_words(entry: FitEntry, names: Mapping[str, str]) -> FitWords:
    """What there is to say of one heading, each thing once."""
    lines = []
    if entry.proof and entry.proof not in entry.reason:
        lines.append(sentence(entry.proof))
    found = [one for one in entry.suspected if not one.words.endswith(JUDGEMENT)]
    if found:
        said = "; ".join(f"{name_of(one, names)}{one.words.removeprefix(FOUND)}" for one in found)
        lines.append(f"Found bad: {said}.")
    guessed = [one for one in entry.suspected if one.words.endswith(JUDGEMENT)]
    items = [f"{name_of(one, names)} {one.words.removesuffix(JUDGEMENT)}" for one in guessed[:ENTRY_SUSPECTS_SHOWN]]
    if len(guessed) > len(items):
        items.append(f"and {len(guessed) - len(items)} more")
    if items:
        lines.append(f"Suspected, by trade judgement: {'; '.join(items)}.")
    if entry.needs_specialist_paper and not entry.specialist_paper and "specialist's paper" not in entry.reason:
        lines.append("A specialist's paper is needed.")
    return FitWords(
        name=entry.name,
        # The reason for a suspicion is the list of what is suspected.
        reason=entry.reason if entry.state != "not touched but suspected" else "",
        lines=tuple(lines),
        to_prove=sentence(entry.how_proved) if entry.state != "proved" else "",
    )
