"""A memory of its own for a test of commands, and a way to call them."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from wreckwright.cli.app import cli

THISTLE = """\
# Thistle, all that we know
nickname = "Thistle"
machine_class = "naked"
year = 2016
as_of = 2026-03-02
what_hit = ["left"]
findings = ["tank dented"]  # with a fist
market.sound_value_minor = 400000
purchase = { bought = true, price_minor = 120000 }
"""
BURDOCK = 'nickname = "Burdock"\nmachine_class = "tourer"\nyear = 2011\nas_of = 2026-03-02\n'


class Memory:
    """The command line over a data folder below `folder`, in which also the record files lie."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.data = folder / "data"
        self.thistle = self.file("thistle.toml", THISTLE)
        self.burdock = self.file("burdock.toml", BURDOCK)

    def file(self, name: str, text: str) -> str:
        path = self.folder / name
        path.write_text(text, encoding="utf-8")
        return str(path)

    def run(self, *words: str, typed: str | None = None) -> Result:
        result = CliRunner().invoke(cli, ["--data", str(self.data), *words], input=typed)
        assert "Traceback" not in result.stderr
        assert result.exit_code != 70, result.stderr
        return result

    def say(self, *words: str) -> str:
        """What a command prints that must succeed."""
        result = self.run(*words)
        assert result.exit_code == 0, result.stderr
        return result.stdout

    def ask(self, *words: str) -> Any:
        return json.loads(self.say(*words, "--json"))

    def refused(self, *words: str, code: int = 1) -> str:
        """What is said of a command that must be refused, in one line; nothing is printed as an answer."""
        result = self.run(*words)
        assert result.exit_code == code, (result.stdout, result.stderr)
        assert result.stdout == ""
        assert "allowed:" in result.stderr and "do:" in result.stderr
        return " ".join(result.stderr.split())
