"""Lines for a terminal of 80 columns: headings, tables, lists."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import TYPE_CHECKING

from wreckwright.papers.said import basis_words
from wreckwright.papers.words import COLUMNS, sentence, wrapped

if TYPE_CHECKING:
    from wreckwright.answers.types import RestsOn


def heading(nickname: str, what: str, as_of: str, *more: str) -> list[str]:
    """
    >>> heading("Sorrel", "foresight", "2026-11-02", "2,000 futures")
    ['Sorrel: foresight as of 2026-11-02 (2,000 futures)', '']
    """
    behind = f" ({'; '.join(more)})" if more else ""
    return [*wrapped(f"{nickname}: {what} as of {as_of}{behind}"), ""]


def bullets(items: Iterable[str], *, indent: int = 2) -> list[str]:
    """
    >>> bullets(["one", "two"])
    ['  - one', '  - two']
    """
    return [line for item in items for line in wrapped(f"- {item}", indent=indent, hang=indent + 2)]


def section(title: str, lines: Sequence[str]) -> list[str]:
    """A title over `lines`, a blank line before it; nothing when there are no lines.

    >>> section("Waits", []), section("Waits", ["  - papers"])
    ([], ['', 'Waits', '  - papers'])
    """
    return ["", title, *lines] if lines else []


def notes_and_guesses(notes: Sequence[str], rests_on: Sequence[RestsOn]) -> list[str]:
    """What goes under every answer: its cautions, and the guesses that would change it."""
    return [
        *section("Mind", bullets(sentence(note) for note in notes)),
        *section("Rests on our guesses about", bullets(guess_words(one) for one in rests_on)),
    ]


def guess_words(guess: RestsOn) -> str:
    return f"{guess.field}: {guess.value} ({basis_words(guess.basis)})"


def sunk_row(sunk_minor: int, say: Callable[[int], str]) -> tuple[str, str]:
    """Label and sum of the money already gone; of money that came in, where that is more.

    >>> sunk_row(500, str), sunk_row(-500, str)
    (('Gone already', '500'), ('Come in already', '500'))
    """
    return ("Come in already", say(-sunk_minor)) if sunk_minor < 0 else ("Gone already", say(sunk_minor))


def table(head: Sequence[str], rows: Sequence[Sequence[str]], *, indent: int = 2) -> list[str]:
    """Columns as wide as they must be, the first to the left and the rest to the right.

    The first column gives way (and wraps) when the whole is wider than a line.

    >>> table(["Price", "Loss"], [["100", "5 %"], ["1,000", "20 %"]])
    ['  Price  Loss', '  100     5 %', '  1,000  20 %']
    """
    columns = list(zip(head, *rows, strict=True))
    widths = [max(len(cell) for cell in column) for column in columns]
    widths[0] = min(widths[0], COLUMNS - indent - sum(2 + width for width in widths[1:]))
    lines = []
    for cells in (head, *rows):
        first = wrapped(cells[0], width=widths[0])
        rest = "".join("  " + cell.rjust(width) for cell, width in zip(cells[1:], widths[1:], strict=True))
        lines.append((" " * indent + first[0].ljust(widths[0]) + rest).rstrip())
        lines.extend(" " * (indent + 2) + more for more in first[1:])
    return lines
