"""Record files into the memory and out of it; copies of all of it. Each command calls one act and says what it did."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

import click

from wreckwright.cli.options import MACHINE, all_of, memory_place, place, say, sent, tell
from wreckwright.errors import UsageError

if TYPE_CHECKING:
    from wreckwright.acts.place import Place

FILE = click.argument("file", metavar="FILE", type=click.Path(path_type=str))


def make_sure(what: str, *, given: bool, option: str) -> None:
    """Go on only if the user says so: by the option, or when asked. Raises UsageError, click.Abort."""
    if given:
        return
    if not somebody_is_there():
        raise UsageError(what, allowed=f"to say yes with {option}", do=f"add {option} if that is what you want")
    click.confirm(f"{what}. Go on?", abort=True, err=True)


def somebody_is_there() -> bool:
    """Whether a question could be answered."""
    return sys.stdin.isatty()


@click.command("load")
@all_of(
    FILE,
    click.option("--update", is_flag=True, help="The machine is there already: make it say what the file says."),
    click.option("--as", "nickname", metavar="NICKNAME", default="", help="Take it in as one more machine, called so."),
)
def load_command(file: str, update: bool, nickname: str) -> None:
    """Take a record file into the memory.

    The file stays as it is, and is not looked at again. Whatever the memory takes from it is one change, which `undo`
    takes back.

    \b
    Examples: wreckwright load sorrel.toml
              wreckwright load sorrel.toml --update
    """
    from wreckwright.acts.machines import load_record

    loaded = load_record(memory_place(), file, update=update, nickname=nickname, sent=sent())
    say([f"{loaded.said}."])
    if loaded.photographs_missing:
        tell(f"Photographs it names that are not in the data folder: {loaded.photographs_missing}.")


@click.command("save")
@all_of(
    MACHINE,
    click.argument("file", metavar="[FILE]", required=False, type=click.Path(path_type=str)),
    click.option(
        "--photos",
        "folder",
        metavar="DIR",
        type=click.Path(path_type=str),
        help="Also its photographs, into this folder: upright, and without the place where they were taken.",
    ),
    click.option("--replace", is_flag=True, help="Replace a file that is there, with all that was written into it."),
)
def save_command(machine: str, file: str | None, folder: str | None, replace: bool) -> None:
    """Write a machine out as a record file.

    TOML, or JSON if FILE ends in .json; without FILE as TOML on the output. Loaded again it is the same machine.

    \b
    Examples: wreckwright save Sorrel sorrel.toml
              wreckwright save Sorrel --photos pictures > sorrel.toml
    """
    from wreckwright.acts.machines import record_text, save_record

    here = memory_place()
    if file is None:
        text = record_text(here, machine)
        if folder is not None:
            save_photos(here, machine, folder)
        click.echo(text, nl=False)
        return
    there = os.path.lexists(file)
    if there:
        make_sure(
            f"{file!r} is there already, and what was written into it, comments too, would be gone",
            given=replace,
            option="--replace",
        )
    nickname = save_record(here, machine, file, overwrite=there)
    tell(f"{nickname} written to {file}.")
    if folder is not None:
        save_photos(here, machine, folder)


def save_photos(here: Place, machine: str, folder: str) -> None:
    from wreckwright.acts.photographs import export

    done = export(here, machine, folder)
    count = len(done.written)
    tell(f"{count} photograph{'' if count == 1 else 's'} written to {folder}.")
    for words in done.left_out:
        tell(f"Left out: {words}")


@click.command("backup")
@click.argument("folder", metavar="[DIR]", required=False, type=click.Path(path_type=str))
def backup_command(folder: str | None) -> None:
    """Put a copy of everything into a safe place.

    All machines, the journal, and the photographs as they were taken (also where). Into DIR, such as a stick that is
    kept elsewhere; without it into the folder `backups` of the data folder, which a broken disk takes along.

    \b
    Example: wreckwright backup /media/stick/garage
    """
    from wreckwright.acts.safe import backup_all

    backup_all(memory_place(), folder, tell=click.echo)


@click.command("restore")
@all_of(
    click.argument("file", metavar="FILE|DIR", type=click.Path(path_type=str)),
    click.option("--yes", is_flag=True, help="Do not ask."),
)
def restore_command(file: str, yes: bool) -> None:
    """Go back to a copy that was made by backup.

    What is in the memory now gives way to it, and is copied into the folder `backups` first. Of a folder the newest
    copy in it is taken; photographs beside it that are not here any more come back too.

    \b
    Example: wreckwright restore /media/stick/garage
    """
    from wreckwright.acts.safe import restore_all

    # Not opened here: what is in it may be damaged, which is why a copy is wanted.
    here = place()
    make_sure(f"to restore {file!r} replaces all machines in {str(here.folder)!r}", given=yes, option="--yes")
    restore_all(here, file, click.echo)
