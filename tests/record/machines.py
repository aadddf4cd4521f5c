"""Hypothesis strategies: any machine that obeys the declared types and the rules within a record."""

from __future__ import annotations

import datetime as dt
from typing import Any

import msgspec
from hypothesis import HealthCheck
from hypothesis import strategies as st
from msgspec import inspect

from wreckwright.record.rules import rule_faults
from wreckwright.record.types import Machine

SLOW_TO_MAKE = (HealthCheck.too_slow, HealthCheck.data_too_large, HealthCheck.filter_too_much)
CHARACTERS = st.characters(exclude_categories=("Cs", "Cc"), include_characters="\n\t\r")
DATES = st.dates(dt.date(1900, 1, 1), dt.date(2199, 12, 31))
ZONES: Any = st.one_of(st.none(), st.integers(-14 * 60, 14 * 60).map(lambda m: dt.timezone(dt.timedelta(minutes=m))))
MOMENTS = st.datetimes(dt.datetime(1900, 1, 2), dt.datetime(2199, 12, 30), timezones=ZONES)
PLAIN = st.recursive(
    st.one_of(
        st.booleans(),
        st.integers(-(2**63) + 1, 2**63 - 1),
        st.floats(allow_nan=False, allow_infinity=False),
        st.text(CHARACTERS, max_size=20),
    ),
    lambda inside: st.one_of(
        st.lists(inside, max_size=3), st.dictionaries(st.text(CHARACTERS, max_size=8), inside, max_size=3)
    ),
    max_leaves=5,
)
EXTRAS = st.dictionaries(st.text(CHARACTERS, max_size=8), PLAIN, max_size=2)


def _of(kind: inspect.Type) -> st.SearchStrategy[Any]:
    if isinstance(kind, inspect.UnionType):
        return st.one_of(*map(_of, kind.types))
    if isinstance(kind, inspect.NoneType):
        return st.none()
    if isinstance(kind, inspect.BoolType):
        return st.booleans()
    if isinstance(kind, inspect.IntType):
        lowest = kind.ge if kind.ge is not None else kind.gt + 1 if kind.gt is not None else -(2**62)
        return st.integers(lowest, kind.le if kind.le is not None else 2**62)
    if isinstance(kind, inspect.FloatType):
        low = kind.ge if kind.ge is not None else kind.gt if kind.gt is not None else -1e300
        return st.floats(low, kind.le if kind.le is not None else 1e18, exclude_min=kind.gt is not None)
    if isinstance(kind, inspect.StrType):
        if kind.pattern:
            return st.from_regex(kind.pattern, fullmatch=True)
        texts = st.text(CHARACTERS, min_size=kind.min_length or 0, max_size=min(kind.max_length or 30, 30))
        return texts.filter(str.strip) if kind.min_length else texts
    if isinstance(kind, inspect.LiteralType):
        return st.sampled_from(kind.values)
    if isinstance(kind, inspect.DateType):
        return DATES
    if isinstance(kind, inspect.DateTimeType):
        return MOMENTS
    if isinstance(kind, inspect.VarTupleType):
        return st.lists(_of(kind.item_type), min_size=kind.min_length or 0, max_size=kind.max_length or 2).map(tuple)
    if isinstance(kind, inspect.StructType):
        return structs(kind.cls)
    raise NotImplementedError(kind)


def structs(cls: type) -> st.SearchStrategy[Any]:
    kind = inspect.type_info(cls)
    assert isinstance(kind, inspect.StructType)
    fields = {field.name: EXTRAS if field.name == "extra" else _of(field.type) for field in kind.fields}
    must = {name: fields.pop(name) for name in [field.name for field in kind.fields if field.required]}
    return st.fixed_dictionaries(must, optional=fields).map(lambda given: cls(**given))


def _mended(machine: Machine) -> Machine:
    """Put right by hand what independent draws cannot know: handles, references, orders."""

    def rows(name: str, **changes: Any) -> tuple[Any, ...]:
        return tuple(
            msgspec.structs.replace(row, id=f"{name}-{index}", **{key: make(row) for key, make in changes.items()})
            for index, row in enumerate(getattr(machine, name))
        )

    def ordered(row: Any, *names: str) -> list[Any]:
        return sorted(getattr(row, name) for name in names)

    parts = rows("parts", ordered_on=lambda row: None)
    jobs = rows(
        "jobs",
        after=lambda row: (),
        parts=lambda row: tuple(part.id for part in parts),
        minutes=lambda row: (
            row.minutes
            and type(row.minutes)(
                **dict(zip(("low", "likely", "high"), ordered(row.minutes, "low", "likely", "high"), strict=True))
            )
        ),
    )
    jobs = tuple(
        msgspec.structs.replace(job, after=(jobs[index - 1].id,)) if index else job for index, job in enumerate(jobs)
    )
    week = machine.calendar.weekday_minutes
    value = machine.market.sound_value
    names = ("low_minor", "likely_minor", "high_minor")
    return msgspec.structs.replace(
        machine,
        format=1,
        parts=parts,
        jobs=jobs,
        as_of=None,
        signs=rows("signs"),
        remedies=rows("remedies"),
        fastenings=rows("fastenings"),
        proofs=rows("proofs"),
        finished=rows("finished"),
        findings=rows(
            "findings",
            what=lambda row: row.what.strip() or "bent",
            missing=lambda row: row.missing and not row.looked_fine,
        ),
        gates=rows("gates", template=lambda row: row.template or "own"),
        readings=rows("readings", limit_low=lambda row: None, if_bad=lambda row: row.if_sound),
        purse=rows("purse", currency=lambda row: machine.currency, pays=lambda row: "purchase"),
        log=rows("log", clip_to_s=lambda row: None),
        errands=rows(
            "errands",
            part=lambda row: parts[0].id if parts and row.part else "",
            batch=lambda row: "batches-0" if machine.batches and row.batch else "",
            wants=lambda row: row.wants if row.kind == "trip" else (),
        ),
        batches=rows(
            "batches",
            away_on=lambda row: None if row.state == "gathering" else row.away_on,
            components=lambda row: tuple(f"{row.name}{index}" for index in range(len(row.components))),
        ),
        loose_ends=rows("loose_ends"),
        calendar=msgspec.structs.replace(
            machine.calendar, weekday_minutes=week and (60, *(abs(day) % 1441 for day in week[1:]))
        ),
        market=msgspec.structs.replace(
            machine.market, sound_value=value and type(value)(**dict(zip(names, ordered(value, *names), strict=True)))
        ),
    )


def machines() -> st.SearchStrategy[Machine]:
    return structs(Machine).map(_mended).filter(lambda machine: not list(rule_faults(machine)))
