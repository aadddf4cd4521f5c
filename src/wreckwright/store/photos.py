"""Photographs as they came, each under the SHA-256 of what is in it.

`photos/ab/abcdef....jpg`: the first two hexadecimal digits are the folder, the ending says what the bytes are. The same
photograph twice is one file. A file stands there whole or not at all: it is written under another name, brought to the
disk, and then renamed. Nothing here looks into a picture further than its first bytes.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import re
import secrets
import time
from collections.abc import Collection, Iterator
from pathlib import Path

from wreckwright.errors import EntryError, NotThere, StoreError
from wreckwright.store.whole_file import write_whole

LIMIT_BYTES = 40_000_000
"""Twice what the largest telephone pictures have today."""

ENDINGS = {"image/jpeg": ".jpg", "image/png": ".png", "image/webp": ".webp", "image/heic": ".heic"}
"""Media type -> ending of the file. Nothing else is kept."""

ALLOWED = f"A photograph as JPEG, PNG, WebP or HEIC, of at most {LIMIT_BYTES // 1_000_000} MB"
_TAKE = "Take it with the camera, or save the picture as JPEG and choose that file"

_SHA = re.compile(r"[0-9a-f]{64}")
_OURS = re.compile(r"(?P<sha>[0-9a-f]{64})\.(?:jpg|png|webp|heic)")
_LEFT_OVER = re.compile(r"\.[0-9a-f]{64}(?:\.(?:jpg|png|webp|heic))?\.[0-9a-f]{16}\.(?:part|going)")

# Brands of the file type box of ISO/IEC 14496-12. "mif1" and "msf1" only say "a picture in such a file": what is in it
# then stands among the brands that it is compatible with.
_HEIC_BRANDS = frozenset({b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx"})
_AVIF_BRANDS = frozenset({b"avif", b"avis"})

_NAMED = (
    (b"GIF8", "a GIF picture"),
    (b"BM", "a BMP picture"),
    (b"II*\x00", "a TIFF or raw picture"),
    (b"MM\x00*", "a TIFF or raw picture"),
    (b"%PDF", "a PDF document"),
    (b"PK\x03\x04", "a ZIP archive or an office document"),
    (b"\x1aE\xdf\xa3", "a film (WebM or Matroska)"),
    (b"\xff\x0a", "a JPEG XL picture"),
    (b"\x00\x00\x00\x0cJXL ", "a JPEG XL picture"),
)


def media_type(data: bytes) -> str | None:
    """What the bytes are (a key of `ENDINGS`), told from their beginning; None: nothing that is kept.

    >>> media_type(b"\\xff\\xd8\\xff\\xe0" + bytes(20)), media_type(b"<svg xmlns='...'/>")
    ('image/jpeg', None)
    """
    if data.startswith(b"\xff\xd8\xff"):
        return "image/jpeg"
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return "image/png"
    if data[:4] == b"RIFF" and data[8:12] == b"WEBP":
        return "image/webp"
    if _brands(data) & _HEIC_BRANDS:
        return "image/heic"
    return None


def _brands(data: bytes) -> frozenset[bytes]:
    """All brands that a file of ISO/IEC 14496-12 says of itself; none if it is not such a file."""
    if data[4:8] != b"ftyp":
        return frozenset()
    box = data[: min(int.from_bytes(data[:4], "big"), 400)]
    return frozenset({box[8:12], *(box[at : at + 4] for at in range(16, len(box) - 3, 4))})


def _what_else(data: bytes) -> str:
    """What a file is that is not kept, in words."""
    for beginning, words in _NAMED:
        if data.startswith(beginning):
            return words
    if brands := _brands(data):
        return "an AVIF picture" if brands & _AVIF_BRANDS else "a film"
    if data[:4] == b"RIFF":
        return "a film or a sound"
    text = data[:300].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if text.startswith(b"<"):
        return "a drawing (SVG)" if b"<svg" in text else "a page of text (HTML or XML)"
    return f"no kind of picture that is known here (it begins with {data[:8].hex(' ')})"


def _refuse(what: str, do: str = _TAKE) -> EntryError:
    return EntryError(what, allowed=ALLOWED, do=do, field="photos")


def keep_photo(folder: Path, data: bytes) -> str:
    """Keep a photograph below `folder` as it came, and give its SHA-256 (64 hexadecimal digits).

    When this returns, the file is on the disk and survives a power cut; write the row that names it after that. Kept
    again, a photograph counts as new for `sweep`, and one that was damaged meanwhile is put right.
    Raises EntryError for what is no such photograph or too large, StoreError if it cannot be written.
    """
    if not data:
        raise _refuse("The photograph is empty (0 bytes)")
    if len(data) > LIMIT_BYTES:
        raise _refuse(f"The photograph has {len(data) / 1e6:.1f} MB", "Send it in a smaller size")
    kind = media_type(data)
    if kind is None:
        raise _refuse(f"The file is {_what_else(data)}")
    sha = hashlib.sha256(data).hexdigest()
    target = folder / sha[:2] / f"{sha}{ENDINGS[kind]}"
    try:
        if not _still_there(target, sha):
            _write(target, data)
    except OSError as error:
        raise StoreError(
            f"The photograph ({len(data) / 1e6:.1f} MB) could not be kept: {_reason(error)}",
            allowed="A data folder with room that may be written to",
            do="Make room on the disk or see to the folder, then send the photograph again; nothing was kept",
        ) from error
    return sha


def _reason(error: OSError) -> str:
    if error.errno == errno.ENOSPC:
        return "the disk is full"
    return (error.strerror or "the disk does not answer").lower()


def _still_there(target: Path, sha: str) -> bool:
    """Whether the photograph is there and whole; if so its age begins anew, before it is looked at (see `sweep`)."""
    try:
        os.utime(target)
        return hashlib.sha256(target.read_bytes()).hexdigest() == sha
    except FileNotFoundError:
        return False


def _write(target: Path, data: bytes) -> None:
    new_folders = [path for path in (target.parent, target.parent.parent) if not path.is_dir()]
    target.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    write_whole(target, data)
    sync_folder(target.parent)
    for path in new_folders:
        sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Bring the names in a folder to the disk. Where folders cannot be opened (Windows) the system sees to it."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def photo_path(folder: Path, sha: str) -> Path:
    """Where the photograph named `sha` stands below `folder`. Raises NotThere if it does not, or if that is no name."""
    if _SHA.fullmatch(sha):
        for ending in ENDINGS.values():
            path = folder / sha[:2] / f"{sha}{ending}"
            if path.is_file():
                return path
        what = f"The photograph {sha[:12]}... is not in the data folder"
    else:
        what = f"{sha[:80]!r} names no photograph"
    raise NotThere(
        what,
        allowed="The SHA-256 of a photograph that was kept: 64 of 0-9 and a-f",
        do="Take it from a backup if it was there before, or photograph it again",
    )


def photos(folder: Path) -> Iterator[tuple[str, Path]]:
    """(SHA-256, path) of every photograph below `folder`, in the order of their names. Other files are passed over."""
    for path in sorted(folder.glob("[0-9a-f][0-9a-f]/*")):
        if (match := _OURS.fullmatch(path.name)) and path.parent.name == match["sha"][:2]:
            yield match["sha"], path


def sweep(folder: Path, named: Collection[str], older_than_s: float) -> tuple[str, ...]:
    """Take away every photograph that is not `named` and was kept longer ago than `older_than_s`; gives their SHA-256.

    `named`: all that any row, or any image of a row in the journal, names; read it before calling. The age must be
    longer than it takes from keeping a photograph to writing the row that names it: an hour is plenty. What a power
    cut left half-written goes too, at the same age. Files that are not ours stay.
    """
    before_s = time.time() - older_than_s
    gone = []
    for sha, path in photos(folder):
        with contextlib.suppress(FileNotFoundError):
            if sha not in named and path.stat().st_mtime < before_s and _take_away(path, before_s):
                gone.append(sha)
    for path in folder.glob("[0-9a-f][0-9a-f]/.*"):
        with contextlib.suppress(FileNotFoundError):
            if _LEFT_OVER.fullmatch(path.name) and path.stat().st_mtime < before_s:
                path.unlink()
    return tuple(gone)


def _take_away(path: Path, before_s: float) -> bool:
    """Whether the file is gone now.

    Somebody may keep the same photograph this very moment. So it is first given another name: from then on whoever
    keeps it writes it anew. Only then its age is read: whoever kept it before that has made it young, and it goes back.
    """
    going = path.parent / f".{path.stem}.{secrets.token_hex(8)}.going"
    os.rename(path, going)
    if going.stat().st_mtime < before_s:
        going.unlink()
        return True
    os.replace(going, path)
    return False
