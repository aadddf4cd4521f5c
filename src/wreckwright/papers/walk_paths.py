"""Outlines of the walk-round's drawings as path text, and what is reckoned with them: turning over, points, room.

A path here has absolute steps only: M, L, Q, C and Z, numbers parted by blanks. So it can be turned over and flattened
without a drawing library.
"""

from __future__ import annotations

from collections.abc import Iterator

Point = tuple[float, float]
_NUMBERS = {"M": 2, "L": 2, "Q": 4, "C": 6, "Z": 0}
_CURVE_STEPS = 12
"""Straight pieces that stand for one curve when an outline is flattened."""
_ROUND = 0.5523
"""Length of a handle over the radius, for a quarter of a circle as one cubic curve."""


def steps(path: str) -> Iterator[tuple[str, tuple[float, ...]]]:
    """The letter and the numbers of each step.

    >>> list(steps("M 0 1 L 2 3 Z"))
    [('M', (0.0, 1.0)), ('L', (2.0, 3.0)), ('Z', ())]
    """
    words = path.split()
    at = 0
    while at < len(words):
        letter = words[at]
        count = _NUMBERS[letter]
        yield letter, tuple(map(float, words[at + 1 : at + 1 + count]))
        at += 1 + count


def written(letter: str, numbers: tuple[float, ...]) -> str:
    """One step as text, tenths at most.

    >>> written("L", (1.0, 2.25))
    'L 1 2.2'
    """
    return " ".join([letter, *(f"{round(number, 1):g}" for number in numbers)])


def flipped(path: str, *, axis_x: float = 180.0) -> str:
    """The path turned over about the upright line at `axis_x`.

    >>> flipped("M 100 5 L 110 6", axis_x=100)
    'M 100 5 L 90 6'
    """
    return " ".join(
        written(letter, tuple(2 * axis_x - n if i % 2 == 0 else n for i, n in enumerate(numbers)))
        for letter, numbers in steps(path)
    )


def whole(half: str, *, axis_x: float = 180.0) -> str:
    """A closed outline from its one half, which goes from the upright line at `axis_x` back to it.

    >>> whole("M 5 0 L 0 3 Q 0 9 5 9", axis_x=5)
    'M 5 0 L 0 3 Q 0 9 5 9 Q 10 9 10 3 L 5 0 Z'
    """
    there = list(steps(half))
    ends = [(numbers[-2], numbers[-1]) for _, numbers in there]
    back: list[str] = []
    for index in range(len(there) - 1, 0, -1):
        letter, numbers = there[index]
        control = [*zip(numbers[:-2:2], numbers[1:-2:2], strict=True)]
        points = [*reversed(control), ends[index - 1]]
        back.append(written(letter, tuple(n for x, y in points for n in (2 * axis_x - x, y))))
    return " ".join([half, *back, "Z"])


def placed(path: str, by_x: float, by_y: float, factor: float = 1.0) -> str:
    """The path made larger or smaller about the origin, then shifted.

    >>> placed("M 1 2 L 3 4", 10, 20, 2)
    'M 12 24 L 16 28'
    """
    return " ".join(
        written(letter, tuple(factor * n + (by_y if i % 2 else by_x) for i, n in enumerate(numbers)))
        for letter, numbers in steps(path)
    )


def ellipse(x: float, y: float, radius_x: float, radius_y: float | None = None) -> str:
    """A closed ellipse about (x, y); a circle if one radius is given.

    >>> ellipse(0, 0, 10).split(" C ")[1]
    '10 5.5 5.5 10 0 10'
    """
    a, b = radius_x, radius_x if radius_y is None else radius_y
    k, m = a * _ROUND, b * _ROUND
    quarters = (
        (x + a, y + m, x + k, y + b, x, y + b),
        (x - k, y + b, x - a, y + m, x - a, y),
        (x - a, y - m, x - k, y - b, x, y - b),
        (x + k, y - b, x + a, y - m, x + a, y),
    )
    return " ".join([written("M", (x + a, y)), *(written("C", quarter) for quarter in quarters), "Z"])


def smooth_corners(points: list[Point], radius: float) -> str:
    """A closed polygon whose corners are rounded: each by a curve that starts at most `radius` before it.

    >>> smooth_corners([(0, 0), (10, 0), (10, 10), (0, 10)], 2)
    'M 2 0 L 8 0 Q 10 0 10 2 L 10 8 Q 10 10 8 10 L 2 10 Q 0 10 0 8 L 0 2 Q 0 0 2 0 Z'
    """
    rounded: list[tuple[Point, Point, Point]] = []
    for index, corner in enumerate(points):
        before, after = points[index - 1], points[(index + 1) % len(points)]
        rounded.append((_towards(corner, before, radius), corner, _towards(corner, after, radius)))
    parts = [written("M", rounded[0][2])]
    for come, corner, leave in (*rounded[1:], rounded[0]):
        parts += [written("L", come), written("Q", (*corner, *leave))]
    return " ".join([*parts, "Z"])


def box(x: float, y: float, width: float, height: float, radius: float = 0.0) -> str:
    """A rectangle with rounded corners.

    >>> box(0, 0, 4, 2)
    'M 0 0 L 4 0 L 4 2 L 0 2 Z'
    """
    corners = [(x, y), (x + width, y), (x + width, y + height), (x, y + height)]
    if radius:
        return smooth_corners(corners, radius)
    return " ".join([*(written("L" if i else "M", corner) for i, corner in enumerate(corners)), "Z"])


def _towards(corner: Point, other: Point, radius: float) -> Point:
    (x, y), (u, v) = corner, other
    length = ((u - x) ** 2 + (v - y) ** 2) ** 0.5
    share = min(radius / length, 0.5) if length else 0.0
    return x + (u - x) * share, y + (v - y) * share


def outline_points(path: str) -> list[Point]:
    """The points of one closed outline, curves replaced by short straight pieces.

    >>> len(outline_points("M 0 0 L 1 0 L 1 1 Z")), len(outline_points(ellipse(0, 0, 5)))
    (3, 49)
    """
    points: list[Point] = []
    for letter, numbers in steps(path):
        if letter in "ML":
            points.append((numbers[0], numbers[1]))
        elif letter in "QC":
            start = points[-1]
            control = [start, *zip(numbers[::2], numbers[1::2], strict=True)]
            points += [_on_curve(control, step / _CURVE_STEPS) for step in range(1, _CURVE_STEPS + 1)]
    return points


def _on_curve(control: list[Point], share: float) -> Point:
    """De Casteljau: halving between the control points until one is left."""
    while len(control) > 1:
        control = [
            (x + (u - x) * share, y + (v - y) * share) for (x, y), (u, v) in zip(control, control[1:], strict=False)
        ]
    return control[0]
