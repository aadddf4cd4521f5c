"""Style, scripts and the mark, from memory; an address names its content, so that a browser asks once."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from importlib import resources

from starlette.requests import Request
from starlette.responses import Response

from wreckwright.errors import NotThere

HTMX_PACKAGE, HTMX_FILE = "js_lib_htmx", "static/htmx/htmx.min.js"
"""htmx comes with a package that is installed beside this one; no copy of it is kept here."""
YEAR_S = 365 * 24 * 3600

_TYPES = {
    ".css": "text/css; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".svg": "image/svg+xml; charset=utf-8",
}


@dataclass(frozen=True)
class Static:
    data: bytes
    media_type: str
    tag: str
    """Begin of the SHA-256 of the data."""


class Statics:
    """All static files, read once.

    >>> statics = Statics.load()
    >>> statics.address("app.css").partition("?v=")[0]
    '/static/app.css'
    """

    def __init__(self, files: dict[str, bytes]) -> None:
        self._files = {
            name: Static(data, _TYPES[name[name.rindex(".") :]], hashlib.sha256(data).hexdigest()[:12])
            for name, data in files.items()
        }

    @classmethod
    def load(cls) -> Statics:
        folder = resources.files("wreckwright.web") / "static"
        files = {file.name: file.read_bytes() for file in folder.iterdir() if file.is_file()}
        files["htmx.js"] = resources.files(HTMX_PACKAGE).joinpath(HTMX_FILE).read_bytes()
        return cls(files)

    def address(self, name: str) -> str:
        """Where a page finds the file `name`. Raises KeyError."""
        return f"/static/{name}?v={self._files[name].tag}"

    def answer(self, request: Request) -> Response:
        """The file that the address asks for. Raises NotThere."""
        name = request.path_params["name"]
        file = self._files.get(name)
        if file is None:
            raise NotThere(f"there is no file {name!r}", do="Go back to the machines")
        as_named = request.query_params.get("v") == file.tag
        headers = {
            "cache-control": f"public, max-age={YEAR_S}, immutable" if as_named else "no-cache",
            "etag": f'"{file.tag}"',
        }
        if request.headers.get("if-none-match") == headers["etag"]:
            return Response(status_code=304, headers=headers)
        return Response(file.data, media_type=file.media_type, headers=headers)
