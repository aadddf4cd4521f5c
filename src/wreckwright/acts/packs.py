"""Model packs on disk: the owner's own figures for one model, laid over the trade data."""

from __future__ import annotations

import os
import tomllib
from typing import Any

from wreckwright.errors import TradeDataError

LARGEST_BYTES = 5_000_000


def read_pack(path: str | os.PathLike[str]) -> dict[str, Any]:
    """The tables of a model pack. Raises TradeDataError if there is no such file or it is no TOML."""
    name = os.fspath(path)
    again = "check the name, or leave --pack out"
    try:
        with open(name, "rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise TradeDataError(f"model pack {name!r} cannot be read: {reason}", allowed="a TOML file", do=again) from None
    if len(data) > LARGEST_BYTES:
        raise TradeDataError(
            f"model pack {name!r} is larger than {LARGEST_BYTES:,} bytes",
            allowed="a TOML file with tables of trade data",
            do=again,
        )
    try:
        return tomllib.loads(data.decode("utf-8-sig").replace("\r\n", "\n"))
    except (ValueError, RecursionError) as error:
        raise TradeDataError(
            f"model pack {name!r} is not well-formed: {error}",
            allowed="TOML in UTF-8",
            do="mend that place in the file",
        ) from None
