"""Files that an answer is kept in."""

from __future__ import annotations

import os

from wreckwright.errors import UsageError, WreckwrightError

PICTURE_ENDING = ".svg"


def check_picture_name(path: str | os.PathLike[str]) -> None:
    """Before long work: is this a name under which a picture may be written? Raises UsageError."""
    name = os.fspath(path)
    if not name.lower().endswith(PICTURE_ENDING):
        raise UsageError(
            f"a picture cannot be written to {name!r}",
            allowed=f"a name ending in {PICTURE_ENDING}",
            do=f"for instance --plot {os.path.splitext(name)[0] or 'picture'}{PICTURE_ENDING}",
        )


def keep_picture(path: str | os.PathLike[str], text: str) -> None:
    """Write `text` to `path`, replacing a file of that name. Raises WreckwrightError if it cannot be written."""
    check_picture_name(path)
    name = os.fspath(path)
    try:
        with open(name, "w", encoding="utf-8") as file:
            file.write(text)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise WreckwrightError(
            f"the picture {name!r} cannot be written: {reason}",
            allowed="a file in a folder this user may write to",
            do="choose another place",
        ) from None
