"""Row images of older record formats, brought up to date or refused in words. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from wreckwright.errors import StoreError
from wreckwright.record.upcast import CURRENT_FORMAT, UPCASTERS, Upcaster, upcast
from wreckwright.store.rows import KINDS
from wreckwright.store.types import SINGLE_KINDS, Fields, RowImage


def in_current_format(
    image: RowImage, *, upcasters: Mapping[int, Upcaster] = UPCASTERS, current: int = CURRENT_FORMAT
) -> RowImage:
    """The same image in the current record format.

    An upcaster works on whole records; it is given one with nothing in it but this row. Raises StoreError if the image
    is of a newer format, or if more than the row itself would change (then one row cannot be put back alone).
    """
    if image.record_format == current:
        return image
    if image.record_format > current:
        raise _refused(image, "which is newer than this program", "Use the newer version of the program for it")
    try:
        return replace(
            image,
            before=_upcast_row(image.before, image, upcasters, current),
            after=_upcast_row(image.after, image, upcasters, current),
            record_format=current,
        )
    except (LookupError, TypeError, ValueError, AttributeError):
        raise _refused(
            image,
            f"and cannot be put into format {current} by itself",
            "Put the fields right by hand, or restore a backup from before",
        ) from None


def _upcast_row(
    fields: Fields | None, image: RowImage, upcasters: Mapping[int, Upcaster], current: int
) -> Fields | None:
    if fields is None:
        return None
    kind = image.key.kind
    whole: dict[str, Any] = {"format": image.record_format}
    if kind == "machine":
        whole |= fields
    else:
        whole[kind] = dict(fields) if kind in SINGLE_KINDS else [dict(fields)]
    after = upcast(whole, upcasters=upcasters, current=current)
    del after["format"]
    if kind == "machine":
        if any(name in KINDS for name in after):
            raise ValueError("a part of the row would go elsewhere")
        return after
    if after.keys() != {kind}:
        raise ValueError("the row, or a part of it, would go elsewhere")
    if kind in SINGLE_KINDS:
        return dict(after[kind])
    (row,) = after[kind]
    return dict(row)


def _refused(image: RowImage, why: str, do: str) -> StoreError:
    return StoreError(
        f"What {image.key.kind} {image.key.handle} was then is kept in record format {image.record_format}, {why}",
        allowed=f"changes written in record format {CURRENT_FORMAT}, or in an older one that can be brought up to it",
        do=do,
    )
