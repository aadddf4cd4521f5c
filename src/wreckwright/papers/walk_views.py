"""The eight views of the walk-round as pictures that can be tapped: ink lines, and a wash behind what can be chosen.

The wash is pale where something can be looked at, hatched where something was found, and deep where it was chosen;
what was found also stands there in words, so that nothing hangs on colour. Each region is a link: the picture works
without a script, with a keyboard, and for those who hear it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from wreckwright.papers import svg
from wreckwright.papers.walk_shapes_above import ASTRIDE, SEAT_UP
from wreckwright.papers.walk_shapes_below import ON_KNEES, TEN_PACES
from wreckwright.papers.walk_shapes_ends import NOSE_ON, TAIL_ON
from wreckwright.papers.walk_shapes_flanks import CHAIN_SIDE, SILENCER_SIDE
from wreckwright.papers.walk_strokes import WIDTH, Shape, Stroke, View, view_flipped

HATCH = "walk-hatch"
_HALO = 2.6
"""How much wider the paper under a line is, where the line lies on hatching or on the deep wash."""
_SHOWN_WIDTH = 440
"""CSS pixels where there is room; on a telephone the page makes it as wide as itself."""
_LETTER_WIDTH, _PLATE_HEIGHT, _LETTER_SIZE = 7.4, 18.0, 13.0
_TURNS_OVER = ("ten_paces", "tail_on", "on_knees")
"""Views in which the chain, the stand or the silencer show on which side they are."""


@dataclass(frozen=True, kw_only=True)
class Mark:
    """A region as it is to be shown. `words` say what was found; empty: nothing so far."""

    region: str
    name: str
    words: str = ""

    @property
    def spoken(self) -> str:
        """
        >>> Mark(region="legs", name="Fork legs", words="2 found").spoken
        'Fork legs: 2 found'
        """
        return f"{self.name}: {self.words}" if self.words else self.name


def view_of(station: str, *, mirrored: bool = False) -> View:
    """The drawing of a station. On a mirrored machine the flanks carry each other's parts.

    >>> sorted(view_of("left_flank", mirrored=True).shapes)
    ['brake', 'engine', 'footrest', 'frame', 'panel', 'pedal', 'silencer']
    """
    if station == "left_flank":
        return SILENCER_SIDE if mirrored else CHAIN_SIDE
    if station == "right_flank":
        return view_flipped(CHAIN_SIDE if mirrored else SILENCER_SIDE)
    view = _VIEWS[station]
    return view_flipped(view) if mirrored and station in _TURNS_OVER else view


_VIEWS: Mapping[str, View] = {
    "ten_paces": TEN_PACES,
    "nose_on": NOSE_ON,
    "tail_on": TAIL_ON,
    "astride": ASTRIDE,
    "on_knees": ON_KNEES,
    "seat_up": SEAT_UP,
}
STATIONS = (*_VIEWS, "left_flank", "right_flank")


def walk_view(
    station: str,
    marks: Sequence[Mark],
    *,
    link: Callable[[str], Mapping[str, str]],
    chosen: str = "",
    mirrored: bool = False,
) -> str:
    """The view of `station` as SVG to stand inside a page, one link for each of `marks`.

    `link` gives the attributes of a region's link: `href`, and whatever else. A region without a mark (a part that this
    kind of machine lacks) is not drawn. A station without a drawing (one of a model pack) gives an empty text.

    >>> marks = [Mark(region="legs", name="Fork legs", words="1 found")]
    >>> picture = walk_view("nose_on", marks, link=lambda region: {"href": f"?part={region}"})
    >>> picture.count("<a "), 'aria-label="Fork legs: 1 found"' in picture
    (1, True)
    """
    if station not in STATIONS:
        return ""
    view = view_of(station, mirrored=mirrored)
    known = [mark for mark in marks if mark.region in view.shapes]
    return svg.element(
        "svg",
        svg.element("defs", svg.hatching(HATCH, every=6, line_width=2.4, ground=svg.PALE, stroke=svg.DEEP)),
        *(_stroke(stroke) for stroke in view.behind),
        *(_region(view.shapes[mark.region], mark, link(mark.region), chosen=mark.region == chosen) for mark in known),
        svg.element("g", *(_stroke(stroke) for stroke in view.before), pointer_events="none"),
        *(_plate(view.shapes[mark.region], mark.words) for mark in known if mark.words),
        viewBox=f"0 0 {svg.number(WIDTH)} {svg.number(view.height)}",
        class_="walkview",
        width=_SHOWN_WIDTH,
        role="group",
        aria_label=view.words,
        font_family=svg.FONT,
    )


def _region(shape: Shape, mark: Mark, link: Mapping[str, str], *, chosen: bool) -> str:
    ground = svg.DEEP if chosen else f"url(#{HATCH})" if mark.words else svg.PALE
    loud = chosen or bool(mark.words)
    wash = svg.element(
        "path",
        d=" ".join(shape.pieces),
        fill=ground,
        stroke=svg.DEEP if loud else svg.MIDDLE,
        stroke_width=3 if chosen else 1.2,
        stroke_linejoin="round",
    )
    # A line may reach over a neighbour: only the wash is hit.
    strokes = svg.element("g", *(_stroke(stroke, halo=loud) for stroke in shape.strokes), pointer_events="none")
    current = {"aria_current": "true"} if chosen else {}
    return svg.element("a", wash, strokes, aria_label=mark.spoken, **link, **current)


def _stroke(stroke: Stroke, *, halo: bool = False) -> str:
    def drawn(colour: str, width: float, fill: str) -> str:
        return svg.element(
            "path",
            d=stroke.path,
            fill=fill,
            stroke=colour,
            stroke_width=width,
            stroke_linejoin="round",
            stroke_linecap="round",
        )

    fill = svg.INK if stroke.dark else svg.PAPER if stroke.solid else "none"
    under = drawn(svg.PAPER, stroke.width + _HALO, "none") if halo and not stroke.solid else ""
    return under + drawn(svg.INK, stroke.width, fill)


def _plate(shape: Shape, words: str) -> str:
    """What was found, on a piece of paper, kept inside the picture."""
    width = len(words) * _LETTER_WIDTH + 8
    x, y = shape.words_at
    x = min(max(x, width / 2 + 2), WIDTH - width / 2 - 2)
    return svg.element(
        "g",
        svg.element(
            "rect",
            x=x - width / 2,
            y=y - _PLATE_HEIGHT / 2,
            width=width,
            height=_PLATE_HEIGHT,
            rx=4,
            fill=svg.PAPER,
            stroke=svg.INK,
            stroke_width=1,
        ),
        svg.element("text", escape(words), x=x, y=y + 4.5, text_anchor="middle", font_size=_LETTER_SIZE, fill=svg.INK),
        pointer_events="none",
        aria_hidden="true",
    )
