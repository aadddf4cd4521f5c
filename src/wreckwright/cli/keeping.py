"""What is in the memory, and what is written down or taken back. Each command calls one act and says what it did."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from wreckwright.cli.options import (
    JSON,
    MACHINE,
    MACHINE_OR_ALL,
    all_of,
    memory_place,
    place,
    place_for,
    say,
    say_json,
    sent,
)

if TYPE_CHECKING:
    from wreckwright.acts.find import Found

SEVERITIES = {"looks": 1, "works-badly": 2, "can-hurt": 3}
CHANGES_SHOWN = 20


def found(machine: str) -> Found:
    from wreckwright.acts.find import find_machine

    return find_machine(machine, place_for(machine))


def uid_of(machine: str | None) -> str | None:
    """Of a machine in the memory; None for all of them. Files have no journal."""
    if machine is None:
        return None
    from wreckwright.acts.journal import no_journal

    one = found(machine)
    if one.is_file:
        raise no_journal(one.path)
    return one.uid


@click.command("list")
@JSON
def list_command(as_json: bool) -> None:
    """The machines in the memory, a line each.

    Each with the verdict, or for a lot the most to pay, if that has been reckoned from the record as it is now
    (the pages do so by themselves), and how many taps wait to be sorted out.

    \b
    Example: wreckwright list
    """
    from wreckwright.acts.overview import overview
    from wreckwright.cli.say_kept import machine_lines

    page = overview(memory_place())
    say_json(page) if as_json else say(machine_lines(page))


@click.command("note")
@all_of(
    MACHINE,
    click.argument("words", metavar="WORDS...", nargs=-1, required=True),
    click.option(
        "--severity",
        type=click.Choice(list(SEVERITIES)),
        help="How bad it is. Without it the words decide: 'scratched' is looks, 'bent' works badly.",
    ),
    click.option("--side", type=click.Choice(["left", "right", "middle"]), help="Which side, if the words do not say."),
    click.option("--fine", is_flag=True, help="It was looked at, and it is fine."),
    click.option("--missing", is_flag=True, help="It is not there."),
    click.option(
        "--photo",
        "photos",
        metavar="FILE",
        multiple=True,
        type=click.Path(path_type=str),
        help="A photograph of it. May be given several times.",
    ),
)
def note_command(
    machine: str,
    words: tuple[str, ...],
    severity: str | None,
    side: str | None,
    fine: bool,
    missing: bool,
    photos: tuple[str, ...],
) -> None:
    """Write down something that was found on a machine.

    In plain words: which part, which side, what is wrong with it. Into the memory, or behind the other findings of a
    record file, whose comments stay as they are. Photographs of a machine in the memory are kept there; a record file
    names them by what is in them, and they stay where they lie.

    \b
    Examples: wreckwright note Sorrel left mirror gone
              wreckwright note sorrel.toml front rim dinged --severity can-hurt
    """
    from wreckwright.acts.note import note

    told = note(
        place(),
        found(machine),
        what=" ".join(words),
        severity=SEVERITIES[severity] if severity else None,
        side=side or "",
        fine=fine,
        missing=missing,
        photos=photos,
        sent=sent(),
    )
    say([f"{told}."])


@click.command("undo")
@all_of(
    MACHINE_OR_ALL,
    click.option("--change", "change_id", metavar="ID", help="That change instead of the last one; see `changes`."),
)
def undo_command(machine: str | None, change_id: str | None) -> None:
    """Take back the last change.

    Of one machine, or of all. Called again it takes back the one before. What was taken back can be brought back by
    taking back the undo with --change. A record file has no journal; there is nothing to take back.

    \b
    Example: wreckwright undo Sorrel
    """
    from wreckwright.acts.journal import undo

    say([f"{undo(memory_place(), uid_of(machine), change_id, sent()).said}."])


@click.command("changes")
@all_of(
    MACHINE_OR_ALL,
    JSON,
    click.option(
        "--last",
        metavar="N",
        type=click.IntRange(1, 10_000),
        default=CHANGES_SHOWN,
        show_default=True,
        help="How many.",
    ),
)
def changes_command(machine: str | None, as_json: bool, last: int) -> None:
    """What was changed, when and by whom; newest first.

    Each with its id, which `undo --change` takes.

    \b
    Example: wreckwright changes Sorrel --last 5
    """
    from wreckwright.acts.journal import journal
    from wreckwright.cli.say_kept import change_lines

    uid = uid_of(machine)
    result = journal(memory_place(), uid, limit=last)
    say_json(result) if as_json else say(change_lines(result, one_machine=uid is not None))
