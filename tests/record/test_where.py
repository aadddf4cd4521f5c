"""Lines are found in whatever way TOML is written (all lines hand-counted)."""

from __future__ import annotations

import tomllib
from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from tests.record.machines import machines
from wreckwright.record.file import to_toml
from wreckwright.record.types import Machine
from wreckwright.record.where import Path, line_of, place, toml_lines

TEXT = '''# a comment with [brackets] = and "quotes"
a = 1
"quoted key" = 2
b.c = { d = [1, 2], e = "x = [" }

[t]   # trailing
f = """
long
text with "quotes" and [[rows]]
"""
g = [
  "one",   # comment, with ] in it
  { h = 1, i = 2 },
]
[[rows]]
j = 'single # no comment'
[rows.extra]
k = 2026-11-20T10:00:00Z
[[rows]]
l = \'\'\'
x\'\'\'
m = "escaped \\" quote ]"
[[rows.inner]]
n = 1
'''


def test_lines_of_a_text_with_everything_in_it() -> None:
    lines = toml_lines(TEXT)
    expected: dict[Path, int] = {
        ("a",): 2, ("quoted key",): 3, ("b", "c"): 4, ("b", "c", "d"): 4, ("b", "c", "e"): 4, ("t",): 6, ("t", "f"): 7,
        ("t", "g"): 11, ("t", "g", 0): 12, ("t", "g", 1): 13, ("t", "g", 1, "h"): 13, ("t", "g", 1, "i"): 13,
        ("rows",): 15, ("rows", 0): 15, ("rows", 0, "j"): 16, ("rows", 0, "extra"): 17, ("rows", 0, "extra", "k"): 18,
        ("rows", 1): 19, ("rows", 1, "l"): 20, ("rows", 1, "m"): 22, ("rows", 1, "inner", 0): 23,
        ("rows", 1, "inner", 0, "n"): 24,
    }  # fmt: skip
    assert {path: lines.get(path) for path in expected} == expected
    # independent (the reader of the standard library): it is well-formed, and has what the places say.
    assert tomllib.loads(TEXT)["rows"][1]["inner"] == [{"n": 1}]
    assert line_of(lines, ("rows", 1, "nothing")) == 19


def places(value: Any, path: Path = ()) -> list[Path]:
    inside = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [path, *(deeper for key, one in inside for deeper in places(one, (*path, key)))]


@given(machines())
def test_every_place_of_a_written_record_has_a_line(machine: Machine) -> None:
    text = to_toml(machine)
    lines = toml_lines(text)
    count = text.count("\n")
    for path in places(tomllib.loads(text))[1:]:
        # Keys inside `extra` may be spelt with escapes, which are not read; the table they are in is found.
        found = line_of(lines, path) if "extra" in path else lines.get(path)
        assert found is not None and 1 <= found <= count, path


@given(st.text(max_size=200))
def test_any_text_is_survived(text: str) -> None:
    toml_lines(text)


def test_places_in_words() -> None:
    assert place(("jobs", 0, "covers", 2), handle="strip", line=9) == "line 9, jobs row 1 (strip), covers entry 3"
    assert place(("extra", "a\nb")) == "extra, 'a\\nb'"
