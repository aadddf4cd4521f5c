"""What a browser posts, read with bounds: a body that is too large is refused while it comes in."""

from __future__ import annotations

from collections.abc import AsyncIterator
from dataclasses import dataclass

import anyio
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.formparsers import MultiPartException
from starlette.requests import Request
from starlette.types import Message

from wreckwright.errors import StoreError, WreckwrightError

LARGEST_BODY_BYTES = 60_000_000
MOST_PHOTOGRAPHS = 12
MOST_FIELDS = 400
LARGEST_FIELD_BYTES = 200_000
DRAIN_BYTES = 3 * LARGEST_BODY_BYTES
"""So much more is read and thrown away before a refusal: a browser hears an answer only when it has sent all."""
DRAIN_S = 10.0


class TooLarge(WreckwrightError):
    """More was sent than is taken. Answered with 413."""


class Garbled(WreckwrightError):
    """What was sent is no form. Answered with 400."""


@dataclass(frozen=True)
class Posted:
    """Fields in their order, and the files that are not empty."""

    fields: tuple[tuple[str, str], ...]
    files: tuple[tuple[str, bytes], ...]

    def get(self, name: str, otherwise: str = "") -> str:
        """The first value of a field.

        >>> Posted((("a", "1"), ("a", "2")), ()).get("a")
        '1'
        """
        return next((value for key, value in self.fields if key == name), otherwise)


class _Bounded:
    """Stands between the server and the form parser, and counts."""

    def __init__(self, request: Request) -> None:
        self._receive = request.receive
        self.taken_bytes = 0
        self.over = False

    async def __call__(self) -> Message:
        message = await self._receive()
        if message["type"] == "http.request":
            self.taken_bytes += len(message.get("body", b""))
            if self.taken_bytes > LARGEST_BODY_BYTES:
                raise _too_large(self.taken_bytes)
            self.over = not message.get("more_body", False)
        return message

    async def drain(self) -> None:
        """Read on without keeping anything, for a while."""
        with anyio.move_on_after(DRAIN_S):
            async for size in self._rest():
                self.taken_bytes += size
                if self.taken_bytes > LARGEST_BODY_BYTES + DRAIN_BYTES:
                    return

    async def _rest(self) -> AsyncIterator[int]:
        while not self.over:
            message = await self._receive()
            self.over = message["type"] != "http.request" or not message.get("more_body", False)
            yield len(message.get("body", b""))


def _too_large(size_bytes: int) -> TooLarge:
    return TooLarge(
        f"more than {size_bytes // 1_000_000} MB were sent at once",
        f"at most {LARGEST_BODY_BYTES // 1_000_000} MB and {MOST_PHOTOGRAPHS} photographs at a time",
        "Send fewer photographs at once; the others can go with a second note",
    )


async def read_posted(request: Request) -> Posted:
    """The fields and files of a form. Raises TooLarge, Garbled, and StoreError when the disk does not take them."""
    bounded = _Bounded(request)
    reading = Request(request.scope, bounded)
    try:
        declared = request.headers.get("content-length", "")
        if declared.isdecimal() and int(declared) > LARGEST_BODY_BYTES:
            raise _too_large(int(declared))
        async with reading.form(
            max_files=8 * MOST_PHOTOGRAPHS, max_fields=MOST_FIELDS, max_part_size=LARGEST_FIELD_BYTES
        ) as form:
            fields = [
                (name, value.replace("\r\n", "\n")) for name, value in form.multi_items() if isinstance(value, str)
            ]
            uploads = [(name, value) for name, value in form.multi_items() if isinstance(value, UploadFile)]
            files = [(name, await upload.read()) for name, upload in uploads]
    except TooLarge:
        await bounded.drain()
        raise
    except OSError as error:
        # Files of more than a megabyte stand in the system's folder for temporary files while they come in. What waits
        # on a telephone is sent again after this; it is no fault that trying again would not mend.
        await bounded.drain()
        raise StoreError(
            f"what was sent cannot be put down on this computer ({error.strerror or error})",
            "some free space where temporary files lie",
            "Make room on the disk and send it once more; nothing was kept of it",
        ) from None
    except (MultiPartException, HTTPException) as error:
        await bounded.drain()
        raise Garbled(
            f"what was sent cannot be read as a form ({getattr(error, 'detail', '') or error})",
            f"a form of at most {MOST_FIELDS} fields, each of at most {LARGEST_FIELD_BYTES // 1000} kB",
            "Open the page again and send it once more",
        ) from None
    # A file field that was left empty comes as a file of no bytes.
    kept = tuple((name, data) for name, data in files if data)
    if len(kept) > MOST_PHOTOGRAPHS:
        raise TooLarge(
            f"{len(kept)} photographs were sent at once",
            f"at most {MOST_PHOTOGRAPHS} photographs and {LARGEST_BODY_BYTES // 1_000_000} MB at a time",
            "Send fewer photographs at once; the others can go with a second note",
        )
    return Posted(tuple(fields), kept)
