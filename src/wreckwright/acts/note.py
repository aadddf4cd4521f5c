"""One finding from the command line: into the memory with its photographs, or into a record file."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable

from wreckwright.acts.ask import read_machine
from wreckwright.acts.find import Found
from wreckwright.acts.finding_form import FindingForm, check_finding, finding_fields
from wreckwright.acts.note_file import note_in_file
from wreckwright.acts.place import Place
from wreckwright.acts.sent import Sent
from wreckwright.errors import UsageError, WreckwrightError
from wreckwright.store.photos import ALLOWED, LIMIT_BYTES, media_type


def note(
    place: Place,
    found: Found,
    *,
    what: str,
    severity: int | None,
    side: str,
    fine: bool,
    missing: bool,
    photos: Iterable[str | os.PathLike[str]],
    sent: Sent,
) -> str:
    """Write a finding down; what was written where, in one sentence without a full stop.

    Raises UsageError for options that contradict each other, EntryError for words that are not understood, RecordError,
    StoreError; then nothing was written.
    """
    if fine and missing:
        raise UsageError("something cannot be both fine and missing", allowed="one of the two", do="leave one out")
    if fine and severity is not None:
        raise UsageError("what is fine has no severity", allowed="one of the two", do="leave one out")
    data = [read_photo(path) for path in photos]
    form = FindingForm(
        what=what,
        severity=severity,
        side=side or None,
        state="fine" if fine else "missing" if missing else None,
        photos=tuple(hashlib.sha256(one).hexdigest() for one in data) or None,
    )
    if found.is_file:
        return f"Noted in {found.path}: {note_in_file(found.path, form)}"
    from wreckwright.acts.photographs import keep
    from wreckwright.acts.writes import note_finding

    # Before any photograph is kept: they would lie there for nothing if the words are not understood.
    check_finding(finding_fields(form), read_machine(place, found.uid))
    for one in data:
        keep(place, one)
    return f"{found.nickname}: {note_finding(place, found.uid, form, sent).said}"


def read_photo(path: str | os.PathLike[str]) -> bytes:
    """Raises WreckwrightError if it cannot be read, or is no photograph of a kind that is kept."""
    name = os.fspath(path)
    try:
        with open(name, "rb") as file:
            data = file.read(LIMIT_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise _no_photo(name, f"it cannot be read ({reason})") from None
    if len(data) > LIMIT_BYTES:
        raise _no_photo(name, f"it has more than {LIMIT_BYTES:,} bytes")
    if media_type(data) is None:
        raise _no_photo(name, "it is something else")
    return data


def _no_photo(name: str, why: str) -> WreckwrightError:
    return WreckwrightError(
        f"{name!r} cannot be taken as a photograph: {why}", allowed=ALLOWED, do="choose another file; nothing was noted"
    )
