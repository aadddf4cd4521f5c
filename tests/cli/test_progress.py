"""The progress line shows on a terminal only, and leaves nothing behind."""

from __future__ import annotations

import io

from wreckwright.cli.progress import Progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_on_a_terminal_it_shows_and_goes() -> None:
    terminal = Terminal()
    with Progress(terminal) as tell:
        tell("Sorrel: drawing 2,000 futures")
        assert "Sorrel: drawing 2,000 futures ..." in terminal.getvalue()
    # Carriage return and "erase to the end of the line" (ECMA-48, section 8.3.41): published (ECMA-48, 8.3.41).
    assert terminal.getvalue().endswith("\r\x1b[K")


def test_elsewhere_it_says_nothing() -> None:
    file = io.StringIO()
    with Progress(file) as tell:
        tell("Sorrel: drawing 2,000 futures")
    assert file.getvalue() == ""
