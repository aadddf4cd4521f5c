"""Photographs as they are shown: upright, small enough, and without a word of where they were taken."""

from __future__ import annotations

import re

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wreckwright.acts.photographs import shown
from wreckwright.errors import NotThere, UsageError

SIZES_PX = (320, 1280)
SHA = re.compile(r"[0-9a-f]{64}")
YEAR_S = 365 * 24 * 3600


def picture(request: Request) -> Response:
    """What lies behind one address never changes, so a browser may keep it (and nobody between us and it)."""
    sha = request.path_params["sha"]
    if not SHA.fullmatch(sha):
        raise NotThere(
            f"there is no photograph {sha[:80]!r}",
            "64 hexadecimal digits",
            "Go back to the page that shows the photograph",
        )
    longest_px = size_px(request.query_params.get("px", str(SIZES_PX[0])))
    tag = f'"{sha}-{longest_px}"'
    headers = {"cache-control": f"private, max-age={YEAR_S}, immutable", "etag": tag}
    data, media_type = shown(request.app.state.place, sha, longest_px)
    if request.headers.get("if-none-match") == tag:
        return Response(status_code=304, headers=headers)
    return Response(data, media_type=media_type, headers=headers)


def size_px(text: str) -> int:
    """Raises UsageError: only a few sizes, so that nobody fills the disk with copies."""
    if text not in map(str, SIZES_PX):
        raise UsageError(
            f"a picture of {text[:20]!r} pixels", " or ".join(map(str, SIZES_PX)), "Ask for one of these sizes"
        )
    return int(text)


routes: list[BaseRoute] = [Route("/picture/{sha}", picture, methods=["GET"])]
