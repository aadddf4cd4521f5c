"""What a drawing of the walk-round is made of: strokes of ink, and one shape for each region that can be tapped."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from wreckwright.papers.walk_paths import Point, flipped

WIDTH = 360.0
MIDDLE_X = WIDTH / 2


@dataclass(frozen=True)
class Stroke:
    """A line, or an outline of a thing. `solid`: it hides what lies behind it. `dark`: filled with ink."""

    path: str
    width: float = 1.4
    solid: bool = False
    dark: bool = False


@dataclass(frozen=True)
class Shape:
    """One region: the closed pieces that can be tapped (two for a pair), what is drawn on them, where its words go."""

    pieces: tuple[str, ...]
    strokes: tuple[Stroke, ...]
    words_at: Point
    """Middle of the line of words that says what was found."""


@dataclass(frozen=True)
class View:
    """What is seen from one station: what lies behind, the regions by their names, what lies before them."""

    height: float
    words: str
    behind: tuple[Stroke, ...]
    shapes: Mapping[str, Shape]
    before: tuple[Stroke, ...] = ()


def thing(path: str, width: float = 1.4) -> Stroke:
    """An outline that hides what lies behind it."""
    return Stroke(path, width, solid=True)


def ink(path: str, width: float = 1.2) -> Stroke:
    """A line."""
    return Stroke(path, width)


def dark(path: str) -> Stroke:
    """A spot filled with ink."""
    return Stroke(path, 1.0, dark=True)


def both(*strokes: Stroke) -> tuple[Stroke, ...]:
    """Each stroke, and the same turned over about the middle of the picture."""
    return tuple(one for stroke in strokes for one in (stroke, _stroke_flipped(stroke)))


def pair(path: str) -> tuple[str, str]:
    """An outline and the same turned over about the middle of the picture."""
    return path, flipped(path, axis_x=MIDDLE_X)


def view_flipped(view: View) -> View:
    """The whole view turned over, for a machine that is laid out the other way round."""
    return replace(
        view,
        behind=tuple(map(_stroke_flipped, view.behind)),
        before=tuple(map(_stroke_flipped, view.before)),
        shapes={
            name: Shape(
                pieces=tuple(flipped(piece, axis_x=MIDDLE_X) for piece in shape.pieces),
                strokes=tuple(map(_stroke_flipped, shape.strokes)),
                words_at=(WIDTH - shape.words_at[0], shape.words_at[1]),
            )
            for name, shape in view.shapes.items()
        },
    )


def _stroke_flipped(stroke: Stroke) -> Stroke:
    return replace(stroke, path=flipped(stroke.path, axis_x=MIDDLE_X))
