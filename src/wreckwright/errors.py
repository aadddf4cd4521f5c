"""Every error a user can meet, in one small tree. Faces (web, cli) translate them in one place each.

    WreckwrightError            what is wrong, what is allowed, what to do next
    +-- RecordError             a record file cannot be read or written; lists every problem found in it
    +-- TradeDataError          a row of trade data or of a model pack is wrong
    +-- AnswerError             the record is well formed, but the answer asked for cannot be given from it
    +-- UsageError              the call itself is wrong: an option, a combination of options, a missing argument
    +-- NotThere                what was asked for by name or handle is not there
    +-- EntryError              something typed into a form cannot be understood; names the field
    +-- StoreError              the database cannot be opened, is newer than the program, is busy, or the disk is full
    +-- NicknameTaken           another machine has this nickname already
    +-- ConflictError           somebody else has changed the same thing meanwhile; lists what, nothing was written
    +-- OperationError          an operation id came again with something else in it

Anything else that comes out of the program is a fault of the program, not of its user.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


def _sentence(text: str) -> str:
    text = text.strip().rstrip(".")
    return f"{text}." if text else ""


class WreckwrightError(Exception):
    """Something the user can put right.

    `what` is wrong (with the value found), what is `allowed`, and what to `do` next; any of the last two may be empty.

    >>> str(WreckwrightError("year is 19", allowed="1900 to 2100", do="Write all four digits"))
    'year is 19. 1900 to 2100. Write all four digits.'
    """

    def __init__(self, what: str, allowed: str = "", do: str = "") -> None:
        self.what = what
        self.allowed = allowed
        self.do = do
        super().__init__(what, allowed, do)

    def __str__(self) -> str:
        return " ".join(part for part in map(_sentence, (self.what, self.allowed, self.do)) if part)


@dataclass(frozen=True, kw_only=True)
class Problem:
    """One thing wrong in a record.

    `where` names the line or the field path with the row's handle, `found` the value that stands there.

    >>> print(Problem(where="line 3, year", found="19", allowed="1900 to 2100", do="write four digits"))
    line 3, year: found 19. Allowed: 1900 to 2100. Do: write four digits.
    """

    where: str
    found: str
    allowed: str
    do: str

    def __str__(self) -> str:
        return (
            f"{self.where}: found {self.found.strip().rstrip('.')}."
            f" Allowed: {self.allowed.strip().rstrip('.')}. Do: {self.do.strip().rstrip('.')}."
        )


class RecordError(WreckwrightError):
    """A record cannot be taken in (or written). `problems` lists all that was found, in the order of the file.

    >>> problem = Problem(where="year", found="19", allowed="1900 to 2100", do="write four digits")
    >>> error = RecordError([problem], name="a.toml")
    >>> error.what, error.allowed, error.do
    ('a.toml: year: found 19', '1900 to 2100', 'write four digits')
    """

    def __init__(self, problems: Iterable[Problem], *, name: str = "") -> None:
        self.problems: tuple[Problem, ...] = tuple(problems)
        self.name = name
        if not self.problems:
            raise ValueError("a RecordError needs at least one problem")
        first = self.problems[0]
        before = f"{name}: " if name else ""
        more = f" (and {len(self.problems) - 1} more)" if len(self.problems) > 1 else ""
        super().__init__(f"{before}{first.where}: found {first.found}{more}", first.allowed, first.do)

    def __reduce__(self) -> tuple[object, ...]:
        return (_rebuild_record_error, (self.problems, self.name))

    def report(self) -> str:
        """All problems, one a line, under a heading that counts them."""
        count = len(self.problems)
        head = f"{self.name or 'record'}: {count} problem{'s' if count > 1 else ''}"
        return "\n".join([head, *(f"  {problem}" for problem in self.problems)])


def _rebuild_record_error(problems: tuple[Problem, ...], name: str) -> RecordError:
    return RecordError(problems, name=name)


class TradeDataError(WreckwrightError):
    """A row of trade data, or of the owner's model pack, cannot be used. `what` names file, row and field."""


class AnswerError(WreckwrightError):
    """The answer asked for cannot be given from this record."""


class UsageError(WreckwrightError):
    """The program was called in a way it does not offer."""


class NotThere(WreckwrightError):
    """A machine, a row or a change that was named is not there."""


class EntryError(WreckwrightError):
    """What was typed into a field of a form cannot be understood. `field` is the name of that field."""

    def __init__(self, what: str, allowed: str = "", do: str = "", *, field: str) -> None:
        super().__init__(what, allowed, do)
        self.field = field


class StoreError(WreckwrightError):
    """The database cannot be used as it is."""


class NicknameTaken(WreckwrightError):
    """Another machine has this nickname. `nickname` is what was wanted, `uid` the machine that has it."""

    def __init__(self, what: str, allowed: str = "", do: str = "", *, nickname: str, uid: str) -> None:
        super().__init__(what, allowed, do)
        self.nickname = nickname
        self.uid = uid


@dataclass(frozen=True, kw_only=True)
class FieldConflict:
    """One field of a row that was changed on both sides, or a whole row (`field` empty)."""

    kind: str
    handle: str
    field: str
    base: object
    """Value when the writer looked; None: absent."""
    now: object
    wanted: object
    since: str = ""
    """What the later change was, in the words of the journal."""


class ConflictError(WreckwrightError):
    """The same thing was changed meanwhile. `conflicts` lists it all; nothing was written."""

    def __init__(self, what: str, allowed: str = "", do: str = "", *, conflicts: Iterable[FieldConflict]) -> None:
        super().__init__(what, allowed, do)
        self.conflicts = tuple(conflicts)


class OperationError(WreckwrightError):
    """An operation came a second time under the same id, with another body."""
