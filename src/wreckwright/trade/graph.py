"""Orders and circles among rows that name one another: covers under covers, checks after checks, knock-ons."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from wreckwright.trade.types import Cover


def find_circle(before: Mapping[str, Iterable[str]]) -> tuple[str, ...]:
    """A circle among `before` (row -> rows that come before it), as the ids along it, first one repeated; or empty.

    >>> find_circle({"a": ["b"], "b": ["c"], "c": ["a"]})
    ('a', 'b', 'c', 'a')
    >>> find_circle({"a": ["b", "c"], "b": ["c"], "c": []})
    ()
    """
    done: set[str] = set()
    for start in before:
        path: list[str] = []
        on_path: set[str] = set()
        stack: list[tuple[str, bool]] = [(start, False)]
        while stack:
            node, leaving = stack.pop()
            if leaving:
                path.pop()
                on_path.discard(node)
                done.add(node)
            elif node in on_path:
                return (*path[path.index(node) :], node)
            elif node not in done:
                path.append(node)
                on_path.add(node)
                stack.append((node, True))
                stack.extend((other, False) for other in reversed(list(before.get(node, ()))))
    return ()


def opening_order(covers: Mapping[str, Cover], wanted: Iterable[str]) -> tuple[str, ...]:
    """What must come off, in an order in which it can, until all of `wanted` are off. Shared covers stand there once.

    Raises `KeyError` for a cover that is not known. Source: arithmetic on the covers table.

    >>> from wreckwright.trade.load import load_trade
    >>> opening_order(load_trade().covers, ["tank_off"])
    ('seat_off', 'battery_out', 'tank_off')
    """
    order: dict[str, None] = {}
    stack = [(cover, False) for cover in reversed(list(wanted))]
    while stack:
        cover, ready = stack.pop()
        if cover in order:
            continue
        if ready:
            order[cover] = None
        else:
            stack.append((cover, True))
            stack.extend((under, False) for under in reversed(covers[cover].under))
    return tuple(order)
