"""Plain geometry of outlines for the tests: inside, distance, room for an upright square."""

from __future__ import annotations

import math

Point = tuple[float, float]
Outline = list[Point]
_HAIR = 0.01
"""A square is looked for so much inside of its edges: a point on an edge is neither in nor out."""


def contains(outline: Outline, point: Point) -> bool:
    """Even-odd rule."""
    x, y = point
    inside = False
    for (x1, y1), (x2, y2) in _edges(outline):
        if (y1 > y) != (y2 > y) and x < (x2 - x1) * (y - y1) / (y2 - y1) + x1:
            inside = not inside
    return inside


def apart(one: Outline, other: Outline) -> float:
    """Least distance between two outlines that do not cross: it is reached at a corner of one of them."""
    return min(
        min(_to_edge(point, *edge) for point in one for edge in _edges(other)),
        min(_to_edge(point, *edge) for point in other for edge in _edges(one)),
    )


def has_room_for(outline: Outline, side: float) -> bool:
    """Whether an upright square of this side lies somewhere inside, its corner on a grid of whole units."""
    xs, ys = [x for x, _ in outline], [y for _, y in outline]
    side -= 2 * _HAIR
    return any(
        _holds(outline, (min(xs) + column + _HAIR, min(ys) + row + _HAIR), side)
        for row in range(int(max(ys) - min(ys) - side) + 1)
        for column in range(int(max(xs) - min(xs) - side) + 1)
    )


def _holds(outline: Outline, corner: Point, side: float) -> bool:
    """No corner of the outline lies in the square, and points all along the square's edge lie inside the outline."""
    x, y = corner
    if any(x < u < x + side and y < v < y + side for u, v in outline):
        return False
    marks = [side * n / 16 for n in range(17)]
    border = [(x + n, y) for n in marks] + [(x + n, y + side) for n in marks]
    border += [(x, y + n) for n in marks] + [(x + side, y + n) for n in marks]
    return all(contains(outline, point) for point in border)


def _edges(outline: Outline) -> list[tuple[Point, Point]]:
    return list(zip(outline, outline[1:] + outline[:1], strict=True))


def _to_edge(point: Point, start: Point, end: Point) -> float:
    (x, y), (x1, y1), (x2, y2) = point, start, end
    length = (x2 - x1) ** 2 + (y2 - y1) ** 2
    share = max(0.0, min(1.0, ((x - x1) * (x2 - x1) + (y - y1) * (y2 - y1)) / length)) if length else 0.0
    return math.hypot(x - x1 - share * (x2 - x1), y - y1 - share * (y2 - y1))
