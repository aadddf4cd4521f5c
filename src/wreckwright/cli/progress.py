"""A line that says what is being done, on a terminal only, and gone when it is done."""

from __future__ import annotations

import sys
from types import TracebackType
from typing import TextIO


class Progress:
    """Call it with a few words at each step; leaving the `with` block clears the line."""

    def __init__(self, stream: TextIO | None = None) -> None:
        self.stream = stream or sys.stderr
        self.shown = False

    def __enter__(self) -> Progress:
        return self

    def __call__(self, words: str) -> None:
        if self.stream.isatty():
            self.stream.write(f"\r\x1b[K{words} ...")
            self.stream.flush()
            self.shown = True

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.shown:
            self.stream.write("\r\x1b[K")
            self.stream.flush()
