"""Write a file whole or not at all."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

OWNER_ONLY = 0o600
BY_UMASK = 0o666


def write_whole(target: Path, data: bytes, *, mode: int = OWNER_ONLY, durable: bool = True) -> None:
    """Put `data` under the name `target`, in one step; whoever looks sees the old file, or all of the new one.

    `mode`: permissions of the new file, less the umask. `durable`: on the disk before it gets its name; without it a
    loss of power may leave it empty, which does for what can be made again. Raises OSError; then all is as it was.
    """
    part = target.parent / f".{target.name[:100]}.{secrets.token_hex(8)}.part"
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), mode)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            if durable:
                file.flush()
                os.fsync(file.fileno())
        if mode != OWNER_ONLY and target.is_file():
            os.chmod(part, target.stat().st_mode & 0o7777)
        os.replace(part, target)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
