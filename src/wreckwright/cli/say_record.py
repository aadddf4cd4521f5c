"""The words for `check` and `show`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wreckwright.cli.lines import bullets, guess_words, heading, section, sunk_row
from wreckwright.papers.words import money, percent, row, upper_first, wrapped

if TYPE_CHECKING:
    from wreckwright.acts.views import Checked, Shown, ShownFinding, ShownGate, ShownPart

ONE_OF = {
    "findings": "finding",
    "signs": "sign",
    "remedies": "remedy",
    "parts": "part",
    "jobs": "job",
    "gates": "gate",
    "readings": "reading",
    "fastenings": "fastening",
    "proofs": "proof",
    "purse": "purse line",
    "log": "log entry",
    "taps": "tap",
    "finished": "finished machine",
}
SURE = 0.9
MANY_OF = {"remedies": "remedies", "log": "log entries"}


def counted(name: str, count: int) -> str:
    """
    >>> counted("parts", 1), counted("log", 2), counted("purse", 3)
    ('1 part', '2 log entries', '3 purse lines')
    """
    return f"{count} {ONE_OF[name] if count == 1 else MANY_OF.get(name, ONE_OF[name] + 's')}"


def checked_lines(result: Checked) -> list[str]:
    if not result.good:
        count = len(result.problems)
        lines = [f"{result.file} cannot be used; {count} thing{'s' if count > 1 else ''} to put right:"]
        for problem in result.problems:
            lines += ["", *wrapped(problem.where, indent=2)]
            for label in ("found", "allowed", "do"):
                lines += row(f"{label}:", getattr(problem, label), at=13, indent=4)
        return lines
    rows = ", ".join(counted(name, count) for name, count in result.rows.items()) or "no rows yet"
    lines = wrapped(f"{result.file} is well formed: {result.nickname}, {rows}.")
    if result.rests_on:
        lines += section(
            "Not in it, and guessed until it is",
            bullets(guess_words(guess) for guess in result.rests_on),
        )
    return lines


def shown_lines(result: Shown) -> list[str]:
    def sum_of(amount_minor: int) -> str:
        return money(amount_minor, result.currency)

    price = "not known" if result.price_minor is None else sum_of(result.price_minor)
    sound = (
        f"{sum_of(result.sound_value_likely_minor)}, between {sum_of(result.sound_value_low_minor)} and "
        f"{sum_of(result.sound_value_high_minor)}"
    )
    machine = ", ".join(filter(None, (result.maker_and_model, str(result.year), result.machine_class)))
    hit = ", ".join(result.what_hit) or "not known"
    return [
        *heading(result.nickname, "what is known", result.as_of),
        *row("Machine", machine),
        *row(
            "What hit it",
            f"{hit}; seen in: {result.seen_in}"
            if result.seen_in == "photographs"
            else f"{hit}; seen: {result.seen_in}",
        ),
        *row("Price paid" if result.bought else "Price asked", price),
        *row(*sunk_row(result.sunk_minor, sum_of)),
        *row("A straight one brings", sound),
        *row("Evenings", f"{result.week_minutes / 60:.1f} h a week planned, {percent(result.attendance)} of it worked"),
        *section("Found", bullets(finding_words(finding) for finding in result.findings)),
        *section("Put right since", bullets(result.put_right)),
        *section(
            "Questions that can sink it",
            bullets(gate_words(gate) for gate in result.gates),
        ),
        *section("Parts", bullets(part_words(part, result.currency) for part in result.parts)),
        *section("Own jobs", bullets(f"{job.name}: {job.state}" for job in result.jobs)),
        *section("Proved by hand", bullets(result.proved)),
        *section("Not in the record, and guessed", bullets(guess_words(guess) for guess in result.rests_on)),
    ]


def gate_words(gate: ShownGate) -> str:
    away = " (away from the bench)" if gate.kind == "outside" else ""
    quick = f". Quick and rough: {gate.quick_look}" if gate.quick_look else ""
    first = f". Look first: {'; '.join(gate.look_first)}" if gate.look_first else ""
    question = gate.question if gate.question.endswith("?") else f"{gate.question}?"
    # A yes that leaves something to look at first has not closed the question.
    answer = "Yes, it says, but the fit-to-ride list is not proved" if gate.answer == "yes" and first else gate.answer
    return f"{question} {upper_first(answer)}{away}{quick}{first}"


def finding_words(finding: ShownFinding) -> str:
    unsure = "" if finding.sure >= SURE else ", not sure"
    same = finding.component.lower() in finding.words.lower()
    component = "" if same else f": {finding.component}" if finding.words else finding.component
    return f"{finding.words}{component} ({finding.severity}{unsure})"


def part_words(part: ShownPart, currency: str) -> str:
    words = f"{part.name}: {part.state}"
    if part.price_minor is not None:
        words += f", {money(part.price_minor, currency)}"
    if part.paid_minor:
        words += f", {money(part.paid_minor, currency)} paid"
    return words + (f", ordered {part.ordered_on}" if part.ordered_on else "")
