"""Jobs as typed: own ones, and what is changed in one that the plan has made. Expected rows are hand-worked."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import msgspec
import pytest

from tests.acts.at_the_bench import as_one, bench, job_of, nothing_written
from tests.acts.kept import SENT, machine, rev, sending
from wreckwright.acts.doing import start
from wreckwright.acts.edit_job import JobForm, change_job, job_typed, new_job
from wreckwright.acts.plan_shapes import JobTyped
from wreckwright.errors import ConflictError, EntryError, RecordError
from wreckwright.record.types import Job, MinutesBand

LEVER = "lever_brake_front"
FULL = JobForm(
    name="Fit the lever", kind="adjust", component="front_wheel", minutes="60", minutes_low="40", minutes_high="2,5e",
)


def test_the_form_has_a_field_for_all_that_is_typed() -> None:
    assert {one.name for one in fields(JobForm)} == {one.name for one in msgspec.structs.fields(JobTyped)}


def test_an_own_job_with_all_that_can_be_said(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    form = JobForm(
        name=" Straighten  the tail ", kind="repair", component="subframe", minutes="90", minutes_low="60",
        minutes_high="150", cost="12.50", covers=("seat_off", "seat_off"), after=("j2",), parts=("p3",),
        before_gate="straight", cure_days="1", may_split="no", helper="yes", tools="tube bender\n\n  vice ",
        supports="strap", keep="tool tray", renew="rivets", steps="look\nbend\nlook again", film="where it touches")
    told = as_one(place, lambda sent: new_job(place, uid, form, sent))
    job = machine(place, uid).jobs[-1]
    assert job == Job(
        id=told.handle, at=SENT.moment, name="Straighten the tail", kind="repair", component="subframe",
        minutes=MinutesBand(low=60, likely=90, high=150), cost_minor=1250, covers=("seat_off",), after=("j2",),
        parts=("p3",), before_gate="straight", cure_days=1, may_split=False, helper=True,
        tools=("tube bender", "vice"), supports=("strap",), keep=("tool tray",), renew=("rivets",),
        steps=("look", "bend", "look again"), film="where it touches")
    # What stands there is shown as it is typed, and typed again it changes nothing.
    typed = JobForm(**msgspec.structs.asdict(job_typed(job, "EUR")))
    base = rev(place, uid, "jobs", told.handle)
    assert change_job(place, uid, f"job:{told.handle}", base, typed, SENT).change_id is None


def test_the_likely_time_alone_gets_the_usual_spread(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    told = new_job(place, uid, JobForm(name="Polish", minutes="100"), SENT)
    assert machine(place, uid).jobs[-1].minutes == MinutesBand(low=64, likely=100, high=157)
    key = f"job:{told.handle}"
    # Shown and sent back without the spread, it stays.
    assert change_job(place, uid, key, 1, JobForm(minutes="100"), SENT).change_id is None
    change_job(place, uid, key, 1, JobForm(minutes="0"), SENT)
    assert machine(place, uid).jobs[-1].minutes == MinutesBand(low=0, likely=0, high=0)
    change_job(place, uid, key, 2, JobForm(minutes=""), SENT)
    assert machine(place, uid).jobs[-1].minutes is None


def test_work_of_the_plan_gets_its_row_when_it_is_first_changed(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    empty = JobForm(**msgspec.structs.asdict(job_typed(None, "EUR")))
    assert change_job(place, uid, LEVER, 0, empty, SENT).change_id is None
    told = as_one(place, lambda sent: change_job(place, uid, LEVER, 0, JobForm(minutes="45", tools="allen key"), sent))
    job = job_of(machine(place, uid), LEVER)
    assert (job.id, job.component, job.name, job.kind, job.tools) == (
        told.handle, LEVER, "Fit front brake lever", "fit", ("allen key",))
    assert told.said == "Job changed: Fit front brake lever (minutes, tools)"
    as_one(place, lambda sent: change_job(place, uid, f"{LEVER}:try_on", 0, JobForm(helper="yes"), sent), "operation2")
    assert job_of(machine(place, uid), f"{LEVER}:try_on").component == ""


def test_a_job_that_was_begun_since_the_form_was_shown_takes_what_was_typed(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    start(place, uid, LEVER, SENT)
    change_job(place, uid, LEVER, 0, JobForm(name="", minutes="45", covers=()), sending("operation2"))
    job = job_of(machine(place, uid), LEVER)
    assert job.minutes is not None and job.minutes.likely == 45 and job.started_at == SENT.moment
    assert job.name == "Fit front brake lever"


def test_what_was_changed_meanwhile_is_a_conflict(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    base = rev(place, uid, "jobs", "j2")
    change_job(place, uid, "job:j2", base, JobForm(name="Clean chain and sprockets"), SENT)
    nothing_written(
        place, lambda: change_job(place, uid, "job:j2", base, JobForm(name="Oil the chain"), sending("operation2")),
        ConflictError)
    change_job(place, uid, "job:j2", base, JobForm(film="the links"), sending("operation3"))
    assert (machine(place, uid).jobs[1].name, machine(place, uid).jobs[1].film) == (
        "Clean chain and sprockets", "the links")


@pytest.mark.parametrize(
    ("form", "field"),
    [
        (FULL, "minutes_high"),
        (JobForm(name=""), "name"),
        (JobForm(kind="magic"), "kind"),
        (JobForm(component="wheelbarrow"), "component"),
        (JobForm(minutes="60", minutes_low="40"), "minutes_high"),
        (JobForm(minutes="", minutes_low="40", minutes_high="50"), "minutes"),
        (JobForm(minutes="60", minutes_low="70", minutes_high="80"), "minutes"),
        (JobForm(done_minutes="long"), "done_minutes"),
        (JobForm(cost="dear"), "cost"),
        (JobForm(covers=("lid",)), "covers"),
        (JobForm(after=("j9",)), "after"),
        (JobForm(parts=("p9",)), "parts"),
        (JobForm(before_gate="tea"), "before_gate"),
        (JobForm(cure_days="400"), "cure_days"),
        (JobForm(may_split="perhaps"), "may_split"),
        (JobForm(helper="perhaps"), "helper"),
        (JobForm(tools="\n".join(["spanner"] * 201)), "tools"),
        (JobForm(steps="x" * 2001), "steps"),
    ],
)
def test_what_is_not_understood_names_its_field(tmp_path: Path, form: JobForm, field: str) -> None:
    place, uid = bench(tmp_path)
    base = rev(place, uid, "jobs", "j2")
    error = nothing_written(place, lambda: change_job(place, uid, "job:j2", base, form, SENT), EntryError)
    assert isinstance(error, EntryError) and error.field == field and error.allowed and error.do


def test_jobs_cannot_wait_for_each_other_in_a_ring(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    change_job(place, uid, "job:j1", 1, JobForm(after=("j2",)), SENT)
    nothing_written(place, lambda: change_job(place, uid, "job:j2", 1, JobForm(after=("j1",)), SENT), RecordError)
    nothing_written(place, lambda: new_job(place, uid, JobForm(name=" "), SENT), EntryError)
    error = nothing_written(place, lambda: change_job(place, uid, "gate:straight", 0, JobForm(), SENT), EntryError)
    assert isinstance(error, EntryError) and error.field == "key"
