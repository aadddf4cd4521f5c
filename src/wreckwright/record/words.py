"""Read a finding or a sign written in plain words. The same words always give the same answer; nothing is learned.

What is not clear is asked back with the nearest parts, never guessed, but for two small liberties that are named in
`Match.assumed`: a slip of the pen in one word, and which end of the machine a cheap part sits at.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from wreckwright.record.faults import nearest, one_of
from wreckwright.record.phrases import (
    DAMAGE,
    FAMILIES,
    FILLERS,
    FINE,
    GONE,
    NOT,
    SPELLINGS,
    SURFACE_ONLY,
    TURNS_INTO,
    WORKS,
    WORKS_BADLY,
)
from wreckwright.trade.types import Component, Trade

CAN_HURT = 3
_CHEAP_STEP = 2
_SLIP_LIKENESS = 0.84
_SHORTEST_SLIP, _LONGEST_SLIP = 5, 20
_MOST_SLIPS = 12
"""Words of a text in which a slip is looked for; more than that is a story, not a finding."""
_LONGEST_ASKED = 40
_PART_LIKENESS = 0.6
"""Below this nearest names are no help: a guess, not a slip of the pen."""
_SIGN_LIKENESS, _SIGN_LEAD = 0.5, 0.1
"""Share of the words that must agree, and how much further the next sign must be."""
_SIDES = ("left", "right")
_ENDS = ("front", "rear")
_AND = ("and", "plus")
_ELSEWHERE = frozenset("near by behind under above below beside around along next from".split())
"""What follows these says where the damage is, not which part is meant."""


@dataclass(frozen=True, kw_only=True)
class Match:
    """A finding understood. Several components only where the words mean several (both mirrors, the fork)."""

    components: tuple[str, ...]
    condition: str
    """One of our words for damage; `fine` if it was looked at and sound, `missing` if it is not there."""
    severity: int
    """1 looks, 2 works badly, 3 can hurt."""
    missing: bool = False
    fine: bool = False
    assumed: str = ""
    """What was taken without being said, in words; empty if nothing."""


@dataclass(frozen=True, kw_only=True)
class Unclear:
    """A text that could not be pinned down."""

    reason: str
    candidates: tuple[str, ...]
    """Up to three ids, nearest first."""
    do: str
    """What to write instead."""


def read_finding(text: str, trade: Trade, *, assume_side: str = "") -> Match | Unclear:
    """What a finding in plain words says. `assume_side` (left, right) is taken for parts of a pair if no side is given.

    For many texts make one `Words` and use its `finding`.

    >>> from wreckwright.trade.load import load_trade
    >>> match = read_finding("front rim dinged", load_trade())
    >>> match.components, match.condition, match.severity
    (('front_wheel',), 'dented', 2)
    """
    return Words(trade).finding(text, assume_side=assume_side)


def read_sign(text: str, trade: Trade) -> str | Unclear:
    """Id of the sign of the trade data that a text means, given by id or in its words.

    >>> from wreckwright.trade.load import load_trade
    >>> trade = load_trade()
    >>> read_sign(next(iter(trade.signs.values())).text, trade) == next(iter(trade.signs))
    True
    """
    return Words(trade).sign(text)


class Words:
    """The vocabulary of one set of trade data, made once for many texts."""

    def __init__(self, trade: Trade) -> None:
        self._components = trade.components
        self._phrases = _phrases(trade)
        names = frozenset(token for phrase in self._phrases for token in phrase) | _SPELT | frozenset(DAMAGE)
        self._known = names | _PLAIN_WORDS
        self._names = sorted(names)
        self._labels: dict[str, list[str]] = {}
        for component in trade.components.values():
            for label in _labels(component):
                self._labels.setdefault(_bare(label), []).append(component.id)
        self._signs = {sign.id: frozenset(_tokens(sign.text)) - _SIGN_FILLERS for sign in trade.signs.values()}
        self._sign_texts = {sign.id: sign.text for sign in trade.signs.values()}

    def finding(self, text: str, *, assume_side: str = "") -> Match | Unclear:
        """See `read_finding`."""
        tokens, plural, slips = self._read(text)
        missing, fine, condition = _condition(tokens)
        asked = [token for token in tokens if token not in DAMAGE and token not in GONE | FINE | NOT | WORKS | FILLERS]
        named = [token for token in tokens if token not in FILLERS]
        phrases, found = self._parts(named)
        if not found:
            return self._unknown(text, asked)
        several_parts = self._in_halves(named, phrases)
        if several_parts:
            return self._several(text, several_parts)
        sides = [side for side in _SIDES if side in asked]
        meant = self._on_side(self._at_end(found, asked), sides[0] if len(sides) == 1 else "")
        several = plural or "both" in tokens or frozenset({"fork"}) in phrases or len(sides) == 2
        # An engine that is gone is gone with all that is in it.
        every = "all" in tokens or (missing and frozenset({"engine"}) in phrases)
        found, assumed = self._choose(
            meant, several=several, every=every, assume_side="" if sides else assume_side
        )
        if not found:
            return self._ambiguous(text, meant)
        found = tuple(dict.fromkeys(self._really(component, condition) for component in found))
        severity = (
            1
            if fine
            else max(_severity(self._components[component], condition, missing=missing) for component in found)
        )
        notes = "; ".join(note for note in (*slips, assumed) if note)
        return Match(
            components=found,
            condition="missing" if missing else "fine" if fine else condition,
            severity=severity,
            missing=missing,
            fine=fine,
            assumed=notes,
        )

    def component(self, text: str, *, side: str = "") -> str | Unclear:
        """The one component that a name means: its id, its everyday name, or a pair's id with the side given apart."""
        for name in (text, f"{text}_{side[:1]}"):
            if name in self._components:
                return name
        read = self.finding(f"{side} {text}")
        if isinstance(read, Unclear):
            return read
        return read.components[0] if len(read.components) == 1 else self._ambiguous(text, read.components)

    def sign(self, text: str) -> str | Unclear:
        """See `read_sign`."""
        if text in self._signs:
            return text
        asked = frozenset(self._read(text)[0]) - _SIGN_FILLERS
        likeness = {name: len(asked & tokens) / max(len(asked | tokens), 1) for name, tokens in self._signs.items()}
        ranked = sorted(likeness, key=lambda name: (-likeness[name], name))
        best, second = (likeness[name] for name in ranked[:2])
        # Something written like an id is an id with a slip in it, and is asked back.
        if best >= _SIGN_LIKENESS and best - second >= _SIGN_LEAD and "_" not in text:
            return ranked[0]
        near = nearest(text, self._signs, cutoff=0.6) or tuple(name for name in ranked[:3] if likeness[name] > 0)
        examples = one_of(f"{name} ({self._sign_texts[name]})" for name in near[:3])
        return Unclear(
            reason="no sign is known by these words",
            candidates=near[:3],
            do=f"write {examples}" if near else "write the id of a sign of the trade data, or put it in the log",
        )

    def _read(self, text: str) -> tuple[list[str], bool, list[str]]:
        """Tokens in our spelling, whether a part was named in the plural, and the slips that were put right."""
        raw = _split(text)
        slips: list[str] = []
        tokens: list[str] = []
        plural = False
        looked_for = 0
        for word in raw:
            token = _singular(word)
            if token not in self._known and _SHORTEST_SLIP <= len(token) <= _LONGEST_SLIP and looked_for < _MOST_SLIPS:
                looked_for += 1
                near = difflib.get_close_matches(token, self._names, n=1, cutoff=_SLIP_LIKENESS)
                if near:
                    slips.append(f"'{word}' read as '{near[0]}'")
                    token = near[0]
            plural = plural or (token != word and word.endswith("s") and token in self._names and token not in DAMAGE)
            tokens.append(token)
        return _respell(tokens), plural, slips

    def _parts(self, named: Sequence[str]) -> tuple[list[frozenset[str]], tuple[str, ...]]:
        """The longest phrases that are in the text, and the components they may mean.

        What follows a word like `near` counts only if nothing else names a part.
        """
        cut = next((index for index, token in enumerate(named) if token in _ELSEWHERE), len(named))
        for tokens in (frozenset(named[:cut]), frozenset(named)):
            held = [phrase for phrase in self._phrases if phrase <= tokens]
            if held:
                best = max(map(_weight, held))
                longest = [phrase for phrase in held if _weight(phrase) == best]
                found = {component for phrase in longest for component in self._phrases[phrase]}
                return longest, tuple(name for name in self._components if name in found)
        return [], ()

    def _in_halves(self, named: Sequence[str], phrases: Sequence[frozenset[str]]) -> tuple[str, ...]:
        """One component of each half, if the text joins two different parts by `and`; else empty."""
        for at, token in enumerate(named):
            if token in _AND:
                first, second = named[:at], named[at + 1 :]
                one, other = self._parts(first)[1], self._parts(second)[1]
                spans = any(
                    not phrase - set(_ENDS) <= set(half)
                    for phrase in phrases
                    for half in (first, second)
                    if phrase & set(half) - set(_ENDS)
                )
                if one and other and not set(one) & set(other) and not spans:
                    return one[0], other[0]
        return ()

    def _at_end(self, found: tuple[str, ...], asked: Iterable[str]) -> tuple[str, ...]:
        ends = [end for end in _ENDS if end in asked]
        if len(ends) != 1:
            return found
        return tuple(name for name in found if ends[0] in _tokens(self._components[name].name_uk)) or found

    def _on_side(self, found: tuple[str, ...], side: str) -> tuple[str, ...]:
        return tuple(name for name in found if self._components[name].side == side) or found

    def _choose(
        self, found: tuple[str, ...], *, several: bool, every: bool, assume_side: str
    ) -> tuple[tuple[str, ...], str]:
        """What is meant, and what was assumed; empty if it must be asked."""
        if len(found) == 1 or every or (several and len(found) == 2):
            return found, ""
        on_side = self._on_side(found, assume_side) if assume_side else found
        assumed = f"{assume_side} side, as that side was hit" if len(on_side) < len(found) else ""
        if len(on_side) > 1:
            front = self._at_end(on_side, ["front"])
            cheap = all(self._components[name].price_step <= _CHEAP_STEP for name in on_side)
            if len(front) == 1 and cheap:
                return front, "; ".join(note for note in (assumed, "front one, as no end is named") if note)
            return (), ""
        return on_side, assumed

    def _really(self, component: str, condition: str) -> str:
        turned = TURNS_INTO.get((component, condition), component)
        return turned if turned in self._components else component

    def _unknown(self, text: str, asked: Sequence[str]) -> Unclear:
        part = [token for token in asked if token not in _SIDES + _ENDS] or asked
        matcher = difflib.SequenceMatcher(None, "", " ".join(part)[:_LONGEST_ASKED])
        likeness: dict[str, float] = {}
        for label, names in self._labels.items():
            matcher.set_seq1(label)
            ratio = matcher.ratio()
            for name in names:
                likeness[name] = max(likeness.get(name, 0.0), ratio)
        near = tuple(sorted(likeness, key=lambda name: (-likeness[name], name))[:3])
        if max(likeness.values(), default=0.0) < _PART_LIKENESS:
            do = "name the part and what is wrong with it, like 'front rim dinged'; what is no part belongs in the log"
        else:
            do = self._write(near)
        return Unclear(reason="no part is known by these words", candidates=near, do=do)

    def _ambiguous(self, text: str, found: tuple[str, ...]) -> Unclear:
        names = one_of(self._components[name].name_uk for name in found[:4])
        return Unclear(reason=f"it could be {names}", candidates=found[:3], do=self._write(found[:3]))

    def _several(self, text: str, found: tuple[str, ...]) -> Unclear:
        return Unclear(
            reason="it names several parts",
            candidates=found[:3],
            do="write one finding for each part, such as "
            + one_of(f"'{self._components[name].name_uk.lower()} ...'" for name in found[:3]),
        )

    def _write(self, names: Iterable[str]) -> str:
        return "write " + one_of(f'component = "{name}" ({self._components[name].name_uk})' for name in names)


def _condition(tokens: Sequence[str]) -> tuple[bool, bool, str]:
    """(missing, fine, damage word). A negation turns what follows within two words."""
    denied = {index + step for index, token in enumerate(tokens) if token in NOT for step in (1, 2)}
    damages = [(DAMAGE[token], index in denied) for index, token in enumerate(tokens) if token in DAMAGE]
    real = [damage for damage, not_so in damages if not not_so]
    if any(token in GONE and index not in denied for index, token in enumerate(tokens)):
        return True, False, "missing"
    if real:
        # The worst word decides; of equals the first.
        return False, False, max(real, key=lambda damage: damage[1])[0]
    if damages:
        return False, True, "fine"
    if denied:
        if any(token in WORKS and index in denied for index, token in enumerate(tokens)):
            return False, False, "dead"
        if any(token in FINE and index in denied for index, token in enumerate(tokens)):
            return False, False, "damaged"
        return True, False, "missing"
    if any(token in FINE or token in WORKS for token in tokens):
        return False, True, "fine"
    return False, False, "damaged"


def _severity(component: Component, condition: str, *, missing: bool) -> int:
    """2 unless the word says looks only; one more on a part that a machine must not be ridden with bad."""
    level = WORKS_BADLY if missing else {word: level for word, level in DAMAGE.values()}.get(condition, WORKS_BADLY)
    if component.ride == "stop" and condition not in SURFACE_ONLY:
        level = min(level + 1, CAN_HURT)
    return level


def _phrases(trade: Trade) -> Mapping[frozenset[str], frozenset[str]]:
    families = {
        frozenset(_tokens(words)): frozenset(name for name in components if name in trade.components)
        for words, components in FAMILIES.items()
    }
    phrases: dict[frozenset[str], frozenset[str]] = {}
    for component in trade.components.values():
        for label in _labels(component):
            phrase = frozenset(_tokens(label)) - FILLERS - frozenset(_SIDES + _AND)
            if phrase - frozenset(_ENDS):
                phrases[phrase] = phrases.get(phrase, frozenset()) | {component.id}
    return phrases | {phrase: components for phrase, components in families.items() if components}


def _labels(component: Component) -> tuple[str, ...]:
    return (component.name_uk, component.name_us, *component.synonyms, component.id.replace("_", " "))


def _weight(phrase: frozenset[str]) -> float:
    # What is wrong with it, and which end it sits at, count for less than what it is.
    return sum(0.5 if token in _LESSER else 1.0 for token in phrase)


def _bare(label: str) -> str:
    return " ".join(token for token in _tokens(label) if token not in _SIDES + _ENDS)


def _split(text: str) -> list[str]:
    flat = (
        text.lower()
        .replace("'", "")
        .replace("\u2019", "")
        .replace(",", " and ")
        .replace("+", " and ")
        .replace("alright", "all right")
    )
    return re.findall(r"[a-z0-9]+", flat.replace("all right", "fine"))


def _singular(word: str) -> str:
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us")) else word


def _tokens(text: str) -> list[str]:
    return _respell([_singular(word) for word in _split(text)])


def _respell(tokens: Sequence[str]) -> list[str]:
    # Twice, because a spelling may lead to another one (lower triple clamp -> lower clamp -> bottom clamp).
    return _respell_once(_respell_once(tokens))


def _respell_once(tokens: Sequence[str]) -> list[str]:
    out: list[str] = []
    at = 0
    while at < len(tokens):
        for source, target in _RESPELLINGS.get(tokens[at], ()):
            if tuple(tokens[at : at + len(source)]) == source:
                out.extend(target)
                at += len(source)
                break
        else:
            out.append("rear" if tokens[at] == "back" else tokens[at])
            at += 1
    return out


def _spellings() -> Mapping[str, tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]]:
    """By first word, longest first."""
    table: dict[str, list[tuple[tuple[str, ...], tuple[str, ...]]]] = {}
    for source, target in SPELLINGS:
        words = tuple(map(_singular, source.split()))
        table.setdefault(words[0], []).append((words, tuple(map(_singular, target.split()))))
    return {first: tuple(sorted(rows, key=lambda row: -len(row[0]))) for first, rows in table.items()}


_RESPELLINGS = _spellings()
_SPELT = frozenset(_singular(word) for source, _ in SPELLINGS for word in source.split())
_SIGN_FILLERS = FILLERS - {"one", "both", "all"}
_LESSER = frozenset(DAMAGE) | GONE | FINE | NOT | WORKS | frozenset(_ENDS)
_PLAIN_WORDS = (
    frozenset(DAMAGE)
    | GONE
    | FINE
    | NOT
    | WORKS
    | FILLERS
    | _SPELT
    | frozenset(_SIDES)
    | frozenset(_ENDS)
    | frozenset(_AND)
    | _ELSEWHERE
    | {"back"}
)
