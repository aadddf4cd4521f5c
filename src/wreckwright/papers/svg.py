"""Just enough to write SVG by hand: elements with escaped values, numbers without noise, one palette.

Pictures carry no outside reference, no script and no font file. They are drawn on a canvas 360 units wide, the width of
a telephone, with letters never smaller than 12 units.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from xml.sax.saxutils import escape, quoteattr

WIDTH = 360
FONT = "system-ui, 'DejaVu Sans', sans-serif"
PAPER, INK, SOFT_INK = "#fbf9f4", "#1d2b33", "#4c5a62"
DEEP, MIDDLE, PALE = "#1f4f5f", "#6f9dab", "#c9dde2"
"""One hue in three depths; hatching says the rest, so that no meaning hangs on the colour."""
HATCH_ID, VEIL_ID = "hatch", "veil"
"""Two hatchings: a strong one for what is counted, a light one to lie behind curves."""


def number(value: float) -> str:
    """
    >>> number(12.0), number(1 / 3)
    ('12', '0.33')
    """
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text in ("-0", "") else text


def element(name: str, *children: str, **attributes: str | float) -> str:
    """An element; children are ready markup, attribute values are escaped; `_` in a name stands for `-`.

    >>> element("text", "a", x=1, text_anchor="end")
    '<text x="1" text-anchor="end">a</text>'
    """
    written = "".join(
        f" {key.rstrip('_').replace('_', '-')}={quoteattr(value if isinstance(value, str) else number(value))}"
        for key, value in attributes.items()
    )
    inside = "".join(children)
    return f"<{name}{written}>{inside}</{name}>" if inside else f"<{name}{written}/>"


def text(
    x: float, y: float, words: str, *, anchor: str = "start", size: float = 13, fill: str = INK, weight: str = "normal"
) -> str:
    """A line of letters; `words` are escaped."""
    return element("text", escape(words), x=x, y=y, text_anchor=anchor, font_size=size, fill=fill, font_weight=weight)


def line(
    x1: float, y1: float, x2: float, y2: float, *, stroke: str = SOFT_INK, width: float = 1, dash: str = ""
) -> str:
    extra = {"stroke_dasharray": dash} if dash else {}
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, stroke=stroke, stroke_width=width, **extra)


def box(x: float, y: float, width: float, height: float, *, fill: str, stroke: str = "none") -> str:
    return element("rect", x=x, y=y, width=max(width, 0), height=max(height, 0), fill=fill, stroke=stroke)


def hatched(x: float, y: float, width: float, height: float) -> str:
    return box(x, y, width, height, fill=f"url(#{HATCH_ID})", stroke=MIDDLE)


def veiled(x: float, y: float, width: float, height: float) -> str:
    return box(x, y, width, height, fill=f"url(#{VEIL_ID})")


def hatching(name: str, *, every: float, line_width: float, ground: str, stroke: str) -> str:
    return element(
        "pattern",
        box(0, 0, every, every, fill=ground),
        line(0, 0, 0, every, stroke=stroke, width=line_width),
        id=name,
        width=every,
        height=every,
        patternUnits="userSpaceOnUse",
        patternTransform="rotate(45)",
    )


def path(
    points: Sequence[tuple[float, float]],
    *,
    stroke: str = "none",
    fill: str = "none",
    width: float = 2,
    closed: bool = False,
) -> str:
    steps = " L".join(f"{number(x)} {number(y)}" for x, y in points)
    return element(
        "path",
        d=f"M{steps}{'Z' if closed else ''}",
        stroke=stroke,
        fill=fill,
        stroke_width=width,
        stroke_linejoin="round",
    )


def patterns(name: str = "") -> str:
    """The two hatchings; `name` keeps them apart where several pictures stand on one page."""
    return element(
        "defs",
        hatching(name + HATCH_ID, every=6, line_width=2.4, ground=PALE, stroke=DEEP),
        hatching(name + VEIL_ID, every=9, line_width=1.6, ground=PAPER, stroke=MIDDLE),
    )


def picture(*parts: str, height: float, title: str, description: str) -> str:
    """A whole file: paper, hatching, `title` and `description` for those who hear it, then the parts."""
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        + element(
            "svg",
            "\n",
            element("title", escape(title), id="title"),
            "\n",
            element("desc", escape(description), id="desc"),
            "\n",
            patterns(),
            "\n",
            box(0, 0, WIDTH, height, fill=PAPER),
            "\n",
            "\n".join(parts),
            "\n",
            xmlns="http://www.w3.org/2000/svg",
            viewBox=f"0 0 {WIDTH} {number(height)}",
            width=WIDTH * 2,
            height=height * 2,
            role="img",
            aria_labelledby="title desc",
            font_family=FONT,
        )
        + "\n"
    )


def inline(*parts: str, name: str, height: float, title: str, description: str) -> str:
    """The same to stand inside a page: as wide as its place, without a ground of its own; `name` (letters) is used once
    on the page.

    >>> inline(box(0, 0, 9, 9, fill="url(#hatch)"), name="a", height=9, title="T", description="D").count("#a-hatch")
    1
    """
    own = "".join(parts)
    for pattern in (HATCH_ID, VEIL_ID):
        # In attributes only; `parts` hold no letters that a user typed (a nickname goes into title and description).
        own = own.replace(f'"url(#{pattern})"', f'"url(#{name}-{pattern})"')
    return element(
        "svg",
        element("title", escape(title), id=f"{name}-title"),
        element("desc", escape(description), id=f"{name}-desc"),
        patterns(f"{name}-"),
        own,
        viewBox=f"0 0 {WIDTH} {number(height)}",
        role="img",
        aria_labelledby=f"{name}-title {name}-desc",
        font_family=FONT,
    )


def round_steps(low: float, high: float, *, most: int, factors: tuple[int, ...] = (1, 2, 5)) -> list[float]:
    """Round figures from `low` to `high`, at most `most` of them, steps of 1, 2 or 5 (`factors`) times a power of ten.

    >>> round_steps(-130, 420, most=5)
    [0.0, 200.0, 400.0]
    """
    if high <= low:
        return [low]
    size = 10.0 ** math.floor(math.log10((high - low) / most))
    while True:
        for factor in factors:
            step = size * factor
            first = -(-low // step)
            count = int(high // step - first) + 1
            if count <= most:
                return [(first + index) * step for index in range(count)]
        size *= 10
