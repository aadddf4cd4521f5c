"""The pages in a browser: the user's own machines, or the demo's."""

from __future__ import annotations

import os
import sys
from typing import TYPE_CHECKING

import click

from wreckwright.cli.options import all_of, place, tell

if TYPE_CHECKING:
    from wreckwright.acts.place import Place

PORT = click.option(
    "--port",
    metavar="N",
    type=click.IntRange(0, 65535),
    help="Where to listen; 0 for any that is free. Without it the usual one, or the next that is free.",
)
NO_OPEN = click.option("--no-open", is_flag=True, help="Print the link only; do not open a browser.")


@click.command("serve")
@all_of(
    PORT,
    click.option("--lan", is_flag=True, help="Also for the phone: any device that opens the link with its key."),
    NO_OPEN,
)
def serve_command(port: int | None, lan: bool, no_open: bool) -> None:
    """The same on pages, for this computer or the phone in the garage.

    Prints the link, and opens it where there is a screen. Without --lan nothing but this computer can reach it; with
    it the link has a key in it, and whoever has the link may read and write. Ctrl-C closes it.

    \b
    Example: wreckwright serve --lan
    """
    serve(place(), port=port, lan=lan, no_open=no_open)


@click.command("demo")
@all_of(
    PORT,
    NO_OPEN,
    click.option("--fresh", is_flag=True, help="Begin anew: what was done in an earlier demo is deleted."),
)
def demo_command(port: int | None, no_open: bool, fresh: bool) -> None:
    """Three invented machines to try it on, apart from your own.

    They lie in a data folder of their own beside yours, and stay as you leave them until --fresh (close a demo that
    is still running first). Ctrl-C closes it.

    \b
    Example: wreckwright demo --fresh
    """
    from wreckwright.acts.demo import open_demo

    serve(open_demo(place(), fresh=fresh, tell=tell), port=port, lan=False, no_open=no_open)


def serve(place: Place, *, port: int | None, lan: bool, no_open: bool) -> None:
    from wreckwright.web.server import serve as run

    try:
        run(place, port=port, pairing=lan, open_browser=not no_open and has_screen(), tell=click.echo)
    except KeyboardInterrupt:
        # Ctrl-C is how it is closed; whatever was told it has been kept.
        click.echo()


def has_screen() -> bool:
    """Whether a browser with a window could be opened; without one a browser would take over the terminal."""
    return sys.platform in ("win32", "darwin") or any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY"))
