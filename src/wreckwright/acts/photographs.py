"""Photographs: kept as they came, shown and given away only as new pictures with nothing in them but what is seen."""

from __future__ import annotations

import contextlib
import io
import os
import struct
import threading
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from wreckwright.acts.place import Place, make_folder
from wreckwright.errors import StoreError, UsageError, WreckwrightError
from wreckwright.record.types import Machine, Row
from wreckwright.store.whole_file import BY_UMASK, write_whole

if TYPE_CHECKING:
    from PIL import Image

JPEG = "image/jpeg"
LEAST_PX, MOST_PX = 16, 4096
MOST_PIXELS_JPEG = 120_000_000
"""JPEG is read at a reduced size where that is enough, so that large ones cost little."""
MOST_PIXELS = 60_000_000
MOST_PIXELS_A_SIDE = 40_000
"""Each line takes memory besides its pixels: a picture that is a pixel wide and millions high takes gigabytes."""
EXPORT_PX = 4096
_QUALITY = 84
_PAPER = (255, 255, 255)
_ONE_AT_A_TIME = threading.Semaphore(2)
"""Large pictures take some hundred megabytes each while they are read."""


_DAMAGED = (OSError, ValueError, SyntaxError, struct.error, EOFError, IndexError, KeyError, TypeError)
"""What Pillow raises on damaged pictures; a truncated one is an OSError."""


class CannotBeShown(WreckwrightError):
    """The photograph is kept, but no picture can be made of it."""


@dataclass(frozen=True, kw_only=True)
class Exported:
    """What came of writing a machine's pictures into a folder."""

    folder: str
    written: tuple[str, ...]
    """Names of the files."""
    left_out: tuple[str, ...]
    """One sentence each: which photograph, and why."""


def keep(place: Place, data: bytes) -> str:
    """Keep a photograph as it came; its SHA-256. Raises EntryError for what is none, StoreError."""
    from wreckwright.store.photos import keep_photo

    make_folder(place.folder)
    return keep_photo(place.photos, data)


def shown(place: Place, sha: str, longest_px: int) -> tuple[bytes, str]:
    """A picture of a photograph, at most `longest_px` (16 to 4096) wide and high, and its media type.

    It stands upright and carries no data but its pixels: no place, no time, no device. It is kept among the answers, so
    that it is made once. Raises NotThere, CannotBeShown, UsageError.
    """
    if not LEAST_PX <= longest_px <= MOST_PX:
        raise UsageError(
            f"a picture of {longest_px} pixels",
            allowed=f"{LEAST_PX} to {MOST_PX} pixels",
            do="ask for a size in between",
        )
    from wreckwright.store.photos import photo_path

    source = photo_path(place.photos, sha)
    cached = place.answers / "pictures" / f"{sha}-{longest_px}.jpg"
    try:
        return cached.read_bytes(), JPEG
    except OSError:
        pass
    with _ONE_AT_A_TIME:
        made = picture_of(source.read_bytes(), longest_px)
    # A picture that cannot be kept is shown all the same.
    with contextlib.suppress(OSError, StoreError):
        _keep_cached(cached, made, place)
    return made, JPEG


def picture_of(data: bytes, longest_px: int) -> bytes:
    """The bytes of a photograph as a new JPEG, upright, with nothing in it but its pixels. Raises CannotBeShown."""
    from PIL import Image, UnidentifiedImageError

    _learn_heic(data)
    # What Pillow says of large pictures and damaged Exif would go to the terminal; here it is told or passed over.
    warnings.filterwarnings("ignore", module=r"PIL\.")
    try:
        with Image.open(io.BytesIO(data), formats=_formats()) as opened:
            _refuse_giants(opened)
            if opened.format in ("JPEG", "MPO"):
                # Twice the size wanted, so that the rest of the way down is smooth.
                opened.draft("RGB", (2 * longest_px, 2 * longest_px))
            opened.load()
            upright = _upright(opened)
            upright.thumbnail((longest_px, longest_px), Image.Resampling.LANCZOS, reducing_gap=3.0)
            return _bare_jpeg(_in_colours_of_the_screen(upright))
    except CannotBeShown:
        raise
    except Image.DecompressionBombError:
        raise _too_large("far too many", MOST_PIXELS) from None
    except UnidentifiedImageError:
        raise _unreadable("it is damaged, or of a kind that is kept but not shown") from None
    except _DAMAGED as error:
        raise _unreadable(f"it is damaged or incomplete ({' '.join(str(error).split())[:80]})") from None


def export(place: Place, name: str, folder: str | os.PathLike[str]) -> Exported:
    """Write the pictures of a machine into a folder, each named by its date and the handle of its row.

    They carry no data but their pixels; the originals stay where they are. A file that is there under such a name and
    says something else, such as a picture of another machine, stays: the new name then ends in a part of its SHA-256.
    Raises NotThere, StoreError, RecordError.
    """
    from wreckwright.acts.ask import read_machine
    from wreckwright.acts.files import open_record
    from wreckwright.acts.find import find_machine

    found = find_machine(name, place)
    machine = open_record(found.path) if found.is_file else read_machine(place, found.uid)
    target = Path(os.fspath(folder))
    written: list[str] = []
    left_out: list[str] = []
    for file_name, sha in named_pictures(machine):
        try:
            data, _ = shown(place, sha, EXPORT_PX)
        except WreckwrightError as error:
            left_out.append(f"{file_name}: {error}")
            continue
        make_folder(target)
        try:
            if _another(target / file_name, data):
                file_name = f"{file_name.removesuffix('.jpg')}-{sha[:8]}.jpg"
            write_whole(target / file_name, data, mode=BY_UMASK)
        except OSError as error:
            raise StoreError(
                f"{str(target / file_name)!r} cannot be written: {error.strerror or error}",
                allowed="a folder this user may write to, with room in it",
                do="choose another folder",
            ) from None
        written.append(file_name)
    return Exported(folder=str(target), written=tuple(written), left_out=tuple(left_out))


def _another(path: Path, data: bytes) -> bool:
    """Whether there is a file of this name that says something else."""
    try:
        return path.read_bytes() != data
    except FileNotFoundError:
        return False


def named_pictures(machine: Machine) -> tuple[tuple[str, str], ...]:
    """(file name, SHA-256) of every photograph that a record names, in its order."""
    rows: list[tuple[str, Row, tuple[str, ...]]] = [
        *((_day_written(one), one, one.photos) for one in machine.findings),
        *((one.date.isoformat(), one, (one.photo_sha256,)) for one in machine.log if one.photo_sha256),
        *((_day_written(one), one, one.photos) for one in machine.taps),
    ]
    named: list[tuple[str, str]] = []
    for day, row, photos in rows:
        handle = "".join(letter if letter.isalnum() or letter in "-_" else "_" for letter in row.id)
        for index, sha in enumerate(photos, start=1):
            number = f"-{index}" if len(photos) > 1 else ""
            file_name = f"{day}-{handle}{number}.jpg"
            if any(file_name == other for other, _ in named):
                # Two handles that differ in a sign which no file name has.
                file_name = f"{day}-{handle}{number}-{sha[:8]}.jpg"
            named.append((file_name, sha))
    return tuple(named)


def _day_written(row: Row) -> str:
    return row.at.date().isoformat() if row.at else "undated"


def _formats() -> tuple[str, ...]:
    from PIL import Image

    Image.init()
    return tuple(one for one in ("JPEG", "MPO", "PNG", "WEBP", "HEIF") if one in Image.OPEN)


def _learn_heic(data: bytes) -> None:
    from wreckwright.store.photos import media_type

    if media_type(data) != "image/heic":
        return
    try:
        import pillow_heif  # type: ignore[import-not-found, unused-ignore]
    except ImportError:
        raise CannotBeShown(
            "this photograph is kept as it is, and cannot be shown: it is a HEIC file",
            allowed="JPEG, PNG and WebP are shown",
            do="set the telephone to take JPEG (the most compatible kind), or install pillow-heif",
        ) from None
    pillow_heif.register_heif_opener(thumbnails=False)


def _upright(image: Image.Image) -> Image.Image:
    from PIL import ImageOps

    try:
        return ImageOps.exif_transpose(image)
    except _DAMAGED:
        # What the camera wrote of itself is damaged, the picture is not.
        return image.copy()


def _refuse_giants(opened: Image.Image) -> None:
    limit = MOST_PIXELS_JPEG if opened.format in ("JPEG", "MPO") else MOST_PIXELS
    wide, high = opened.size
    if wide * high > limit or max(wide, high) > MOST_PIXELS_A_SIDE:
        raise _too_large(f"{wide:,} x {high:,}", limit)


def _in_colours_of_the_screen(image: Image.Image) -> Image.Image:
    """RGB as screens show it: other colour spaces converted, what is transparent laid on white paper."""
    from PIL import Image, ImageCms

    if image.mode.startswith("I") or image.mode == "F":
        # 16 bits a pixel, of which the upper eight are shown.
        image = image.convert("I").point(lambda value: value / 256).convert("L")
    profile = image.info.get("icc_profile")
    if profile and image.mode in ("RGB", "CMYK", "L", "RGBA"):
        with contextlib.suppress(ImageCms.PyCMSError, OSError, ValueError):
            alpha = image.getchannel("A") if image.mode == "RGBA" else None
            plain = image.convert("RGB") if alpha else image
            converted = ImageCms.profileToProfile(
                plain, ImageCms.ImageCmsProfile(io.BytesIO(profile)), ImageCms.createProfile("sRGB"), outputMode="RGB"
            )
            if converted is not None:
                image = converted
                if alpha is not None:
                    image.putalpha(alpha)
    if image.has_transparency_data:
        image = image.convert("RGBA")
        paper = Image.new("RGB", image.size, _PAPER)
        paper.paste(image, mask=image.getchannel("A"))
        return paper
    return image.convert("RGB")


def _bare_jpeg(image: Image.Image) -> bytes:
    """A new picture of the same pixels: whatever the old one carried along stays behind."""
    from PIL import Image

    bare = Image.new("RGB", image.size)
    bare.paste(image)
    out = io.BytesIO()
    bare.save(out, "JPEG", quality=_QUALITY, optimize=True)
    return out.getvalue()


def _keep_cached(path: Path, data: bytes, place: Place) -> None:
    make_folder(place.answers)
    make_folder(path.parent)
    write_whole(path, data, durable=False)


def _too_large(size: str, limit: int) -> CannotBeShown:
    return CannotBeShown(
        f"this photograph is kept, and cannot be shown: it has {size} pixels",
        allowed=f"up to {limit // 1_000_000} million pixels, and {MOST_PIXELS_A_SIDE:,} a side",
        do="save it in a smaller size and add that one",
    )


def _unreadable(why: str) -> CannotBeShown:
    return CannotBeShown(
        f"this photograph is kept, and cannot be shown: {why}",
        allowed="whole JPEG, PNG or WebP files",
        do="take or send it again",
    )
