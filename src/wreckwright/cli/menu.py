"""A group of commands in sections, each imported from its module only when it is called for."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from typing import Any, NamedTuple

import click

from wreckwright.cli.guard import Guarded
from wreckwright.errors import UsageError


class Offer(NamedTuple):
    """One command in the list: where it lives, and what it is for."""

    module: str
    """Module of `wreckwright.cli` in which a command of this name stands."""
    words: str
    """One sentence, also the first of the command's own help."""


class Menu(Guarded):
    """Help lists the commands by what they are for, from the sentences here: no module has to be imported for it."""

    def __init__(self, *args: Any, sections: Mapping[str, Mapping[str, Offer]], **extra: Any) -> None:
        super().__init__(*args, **extra)
        self.sections = sections
        self.offers = {name: offer for offers in sections.values() for name, offer in offers.items()}

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self.offers)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        offer = self.offers.get(cmd_name)
        if offer is None:
            return None
        found = getattr(importlib.import_module(f"wreckwright.cli.{offer.module}"), f"{cmd_name}_command")
        assert isinstance(found, click.Command)
        return found

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        name = args[0]
        if name not in self.offers and not name.startswith("-"):
            raise self._unknown(name)
        return super().resolve_command(ctx, args)

    def _unknown(self, name: str) -> UsageError:
        import difflib

        near = difflib.get_close_matches(name, self.offers, n=2)
        return UsageError(
            f"there is no command {name!r}",
            allowed=", ".join(self.offers),
            do=f"call {' or '.join(near)}" if near else "see `wreckwright --help` for what each is for",
        )

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        widest = max(map(len, self.offers))
        for title, offers in self.sections.items():
            with formatter.section(title):
                formatter.write_dl([(name.ljust(widest), offer.words) for name, offer in offers.items()])
