"""The words for the running order, tonight, job cards, loose ends and the hands."""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from wreckwright.acts.loose_ends import LOOSE_WORDS
from wreckwright.cli.lines import bullets, heading, notes_and_guesses, section
from wreckwright.papers.said import by
from wreckwright.papers.words import day, hours, minutes, percent, row, sentence, upper_first, with_days, wrapped

if TYPE_CHECKING:
    from wreckwright.acts.plan_shapes import HandsPage, LooseRow, RemedyOffer
    from wreckwright.answers.plan_types import (
        BatchLine,
        CardCover,
        ErrandLine,
        JobCard,
        OrderEntry,
        Parcel,
        RunningOrder,
        Stretch,
        Tonight,
        TonightEntry,
    )
    from wreckwright.answers.types import DayQuantile

SHARE_NAMED = 0.01
"""What the end waits for more seldom is not named."""
HERE = "here"
"""State of a part that has come: there is no day to be said of it."""


def order_lines(answer: RunningOrder) -> list[str]:
    lines = [*heading(answer.nickname, "running order", answer.as_of), *wrapped(with_days(answer.why)), ""]
    if answer.broken:
        lines += [
            *wrapped("This order cannot be kept as it stands, and is not to be relied on:"),
            *bullets(map(with_days, answer.broken)), "",
        ]
    lines += row("Finished", _when(answer.finish, answer.finish_p80))
    if answer.first_gate is not None:
        lines += row("First question", f"half {by(answer.first_gate)}")
    lines += row(
        "For covers",
        f"{hours(answer.cover_hours)}; {hours(answer.cover_hours_one_by_one)} if each job opened for itself",
    )
    for stretch in answer.stretches:
        lines += stretch_lines(stretch)
    return [
        *lines,
        *section("What is waited for", bullets(map(parcel_words, answer.parcels))),
        *section("Work elsewhere", bullets(map(batch_words, answer.batches))),
        *section("For the daytime", bullets(map(errand_words, answer.errands))),
        *_long_wait(answer),
        *section(
            "After the first start and the first ride",
            bullets(
                f"{one.words} ({one.due}{'; it is due' if one.is_due else ''})" for one in answer.after_ride
            ),
        ),
        *notes_and_guesses(tuple(map(with_days, answer.notes)), answer.rests_on),
    ]


def stretch_lines(stretch: Stretch) -> list[str]:
    """The work up to a question, and the question."""
    when = "" if stretch.when is None else f"half {by(stretch.when)}"
    usual = f"usually {day(stretch.usual_date)}" if stretch.usual_date else "not within the calendar"
    question = f"{stretch.question} ({'; '.join(filter(None, (usual, when)))})"
    lines = ["", *wrapped(f"Up to: {question}")]
    for entry in stretch.entries:
        lines += entry_lines(entry)
    return lines


def entry_lines(entry: OrderEntry) -> list[str]:
    """Two lines: the days and the work; its key, and what it waits for."""
    until = f" to {entry.to_date}" if entry.to_date and entry.to_date != entry.from_date else ""
    took = f" ({minutes(entry.minutes)})" if entry.minutes > 0 else ""
    waits = f"; waits for {with_days(entry.waits_for)}" if entry.waits_for else ""
    return [
        *wrapped(f"{entry.from_date or 'later'}{until}  {work_name(entry)}{took}", indent=2, hang=14),
        *wrapped(f"{entry.key}{waits}", indent=14, hang=16),
    ]


def work_name(entry: OrderEntry) -> str:
    """A cover that goes back on says so itself, or has the name of the cover that came off."""
    if entry.kind == "on" and entry.name.endswith(" off"):
        return f"Back on: {entry.name.removesuffix(' off')}"
    return upper_first(entry.name)


def parcel_words(one: Parcel) -> str:
    binds = f"; the end waits for it in {percent(one.share)} of the futures" if one.share >= SHARE_NAMED else ""
    comes = f"; half by {day(one.p50)}" if one.p50 and one.state != HERE else ""
    late = f", 8 in 10 by {day(one.p80)}" if comes and one.p80 else ""
    never = f"; {percent(one.never_chance)} never come" if one.never_chance >= SHARE_NAMED else ""
    back = f"; can go back until {day(one.last_return)}" if one.last_return else ""
    return f"{upper_first(one.name)}: {with_days(one.state)}{comes}{late}{never}{binds}{back}"


def batch_words(one: BatchLine) -> str:
    parts = f" ({', '.join(one.parts)})" if one.parts else ""
    return f"{upper_first(one.name)}{parts}, {one.state}: {with_days(one.words)}"


def errand_words(one: ErrandLine) -> str:
    when = f" on {day(one.date)}" if one.date else ""
    wants = f" It must be so: {', '.join(one.wants)}." if one.wants else ""
    return f"{upper_first(one.words)}{when}: {one.question} {sentence(one.worth)}{wants}".replace("  ", " ").strip()


def tonight_lines(answer: Tonight) -> list[str]:
    lines = [*heading(answer.nickname, f"tonight, {hours(answer.hours)}", answer.as_of), *wrapped(answer.why)]
    first = (f"{LOOSE_WORDS[one.what]}: {one.words or one.count} ({one.handle})" for one in answer.first)
    lines += section("First of all", bullets(first))
    if answer.entries:
        lines += [""]
    for place, entry in enumerate(answer.entries, start=1):
        lines += tonight_entry(place, entry)
    if answer.nothing:
        lines += ["", *wrapped(sentence(with_days(answer.nothing)))]
    lines += section("Left open at the end", bullets(answer.left_open))
    if answer.entries and answer.spare_minutes >= 1:
        lines += ["", *wrapped(f"{minutes(answer.spare_minutes)} to spare.")]
    return [*lines, *notes_and_guesses((), answer.rests_on)]


def tonight_entry(place: int, entry: TonightEntry) -> list[str]:
    took = minutes(entry.minutes) + (", only begun" if entry.in_part else "")
    only = "If the answer is yes: " if entry.if_yes else ""
    lines = wrapped(f"{place}. {only}{upper_first(entry.name)} ({took})", hang=3)
    lines += wrapped(entry.key, indent=3)
    if entry.first_off:
        lines += wrapped(f"First: {', '.join(entry.first_off)} ({minutes(entry.minutes_covers)})", indent=3)
    if entry.first_on:
        lines += wrapped(f"First: {', '.join(entry.first_on)} ({minutes(entry.minutes_covers)})", indent=3)
    lines += wrapped(sentence(with_days(entry.why)), indent=3)
    if entry.caution:
        lines += wrapped(f"! {upper_first(entry.caution)}", indent=3, hang=5)
    if entry.film:
        lines += wrapped(f"Film it: {entry.film}", indent=3)
    return lines


def card_lines(card: JobCard) -> list[str]:
    """One card under its five heads."""
    span = f"{minutes(card.minutes.likely)}, {minutes(card.minutes.low)} to {minutes(card.minutes.high)}"
    done = f"; {minutes(card.done_minutes)} done" if card.done_minutes else ""
    begun = f"; begun at {card.began_at}" if card.began_at else ""
    lines = wrapped(f"{upper_first(card.name)} ({card.key})")
    lines += wrapped(f"{upper_first(card.state)}; {span}{done}{begun}")
    lines += wrapped(sentence(with_days(card.why))) if card.why else []
    lines += section("Before you touch", [
        *bullets(f"! {one}" for one in card.cautions),
        *bullets(f"look first: {one}" for one in card.look_first),
        *(bullets(["it takes two"]) if card.helper else []),
        *bullets(f"support: {one}" for one in card.supports),
        *_listed("Tools", card.tools),
        *bullets(f"film: {one}" for one in card.film),
        *bullets(f"{one.name}: {with_days(one.state)}{_back(one.last_return)}" for one in card.parts),
    ])
    lines += section("Off", cover_items(card.off))
    lines += section("While it is open", [
        *bullets(card.steps), *_listed("Carry over", card.keep), *_listed("Renew", card.renew),
        *bullets(f"also here: {name} ({key})" for key, name in card.while_open),
    ])
    lines += section("Back on", [
        *bullets(card.bags),
        *bullets(f"{one.where}: {one.words} ({one.basis})" for one in card.torques),
        *cover_items(card.back_on),
        *(bullets([f"then leave it for {counted(card.cure_days, 'day')}"]) if card.cure_days else []),
    ])
    lines += section("Prove it", bullets(f"{one.what}: {one.words}" for one in card.limits))
    if len(card.siblings) > 1:
        lines += section("The steps of it", bullets(
            f"{name} ({key}){', done' if done_ else ''}{', this one' if key == card.key else ''}"
            for key, name, done_ in card.siblings
        ))
    return lines


def cover_items(covers: Iterable[CardCover]) -> list[str]:
    found: list[str] = []
    for one in covers:
        off = ", off already" if one.off_already else ""
        found += bullets([f"{one.name} ({minutes(one.minutes)}{off})"])
        for note in one.notes:
            found += wrapped(note, indent=4)
        if one.caution:
            found += wrapped(f"! {one.caution}", indent=4, hang=6)
    return found


def loose_lines(rows: Sequence[LooseRow]) -> list[str]:
    if not rows:
        return ["Nothing is left loose."]
    found = []
    for one in rows:
        count = f" ({one.count})" if one.count > 1 else ""
        work = f", at: {one.work_name}" if one.work_name else ""
        found += wrapped(f"{one.handle}  {one.what_words}{count}: {one.words or '-'}{work}", hang=8)
    return found


def offer_lines(offers: Sequence[RemedyOffer], machine: str) -> list[str]:
    """What can be done about something that went wrong, and how it is chosen."""
    found: list[str] = []
    for name in dict.fromkeys(one.component_name for one in offers):
        mine = [one for one in offers if one.component_name == name]
        found += section(f"What can be done about it: {name}", bullets(map(offer_words, mine)))
        usual = next((one for one in mine if one.usual), mine[0])
        found.append(f"  $ wreckwright remedy {shlex.quote(machine)} {usual.component} {usual.remedy}")
    return found


def offer_words(one: RemedyOffer) -> str:
    costs = ", ".join(filter(None, (one.price, one.wait)))
    marks = ", ".join(filter(None, ("usual" if one.usual else "", "chosen now" if one.chosen else "")))
    words = f"{one.remedy}: {one.words[:1].lower()}{one.words[1:]}"
    return f"{words}{f' ({costs})' if costs else ''}{f'; {marks}' if marks else ''}"


def hands_lines(page: HandsPage) -> list[str]:
    if not page.machines:
        return ["No machine is bought: there is nothing to work on yet."]
    week = [
        f"{one.words} {typed} min" for one, typed in zip(page.weekdays, page.typed.week, strict=True)
        if typed and typed != "0"
    ]
    lines = [*wrapped("Week: " + (", ".join(week) if week else "not known; the usual is reckoned with")), ""]
    for one in page.days:
        marks = [
            *(["day off"] if one.off else [f"{one.changed or one.usual} min"]),
            *(["other than usual"] if one.changed and not one.off else []), *(["helper"] if one.helper else []),
        ]
        lines += wrapped(f"{one.date}  {one.weekday[:3]}  {', '.join(marks)}", indent=2, hang=19)
    lines += section("Days off", bullets(page.typed.days_off.splitlines()))
    line = [f"{one.turn}. {one.nickname}{'' if one.same else ' (another week)'}" for one in page.machines]
    return [*lines, *section("Who goes first", [f"  {words}" for words in line])]


def counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def _when(half: DayQuantile | None, most: DayQuantile | None) -> str:
    if half is None:
        return "not in any future"
    return f"half {by(half)}" + (f"; 8 in 10 {by(most)}" if most is not None else "")


def _long_wait(answer: RunningOrder) -> list[str]:
    wait = answer.long_wait
    if wait is None:
        return []
    return section(f"It is going to stand for {wait.days} days, until {day(wait.until)}", bullets(wait.words))


def _listed(title: str, items: Sequence[str]) -> list[str]:
    return bullets([f"{title}: {', '.join(items)}"]) if items else []


def _back(last_return: str) -> str:
    return f"; can go back until {day(last_return)}" if last_return else ""
