"""The running order: all work along time, what is waited for, what is for the daytime, what comes after it ran."""

from __future__ import annotations

from dataclasses import fields
from typing import Any, TypeVar

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wreckwright.acts import after_ride
from wreckwright.acts.batches import BatchForm, batch_state, change_batch, note_batch
from wreckwright.acts.edit_job import JobForm, new_job
from wreckwright.acts.errands import ErrandForm, change_errand, errand_done, note_errand
from wreckwright.acts.plan_pages import order_page
from wreckwright.papers.order_layout import sure_parcels
from wreckwright.papers.order_picture import order_figure
from wreckwright.web.forms import Form, answer, read_form
from wreckwright.web.plan_view import card_at, order_at, part_or_page

T = TypeVar("T", ErrandForm, BatchForm, JobForm)
LISTS = ("wants", "components")
"""Fields of a form that hold several values."""


def order(request: Request) -> Response:
    uid = request.path_params["uid"]
    state = request.app.state
    state.reckoner.want(uid)
    with state.store.reading() as reader:
        page = order_page(reader, state.trade, state.reckoner, uid)
    sure, perhaps = sure_parcels(page.order) if page.order else ((), ())
    return part_or_page(
        request,
        "order.html",
        "order_part.html",
        head=page.head,
        standing=page.standing,
        at=order_at(uid),
        page=page,
        figure=order_figure(page.order) if page.order else None,
        sure=sure,
        perhaps=perhaps,
    )


def typed(form: Form, kind: type[T]) -> T:
    """What a form says; what it does not show stays None."""
    given: dict[str, Any] = {}
    for one in fields(kind):
        if form.has(one.name):
            given[one.name] = form.texts(one.name) if one.name in LISTS else form.text(one.name)
    return kind(**given)


def take_on(request: Request) -> Response:
    """A trip or a call is taken on."""
    uid, form = request.path_params["uid"], read_form(request)
    told = note_errand(request.app.state.place, uid, typed(form, ErrandForm), form.sent)
    return answer(request, told, back=order_at(uid))


def change_trip(request: Request) -> Response:
    uid, handle, form = request.path_params["uid"], request.path_params["handle"], read_form(request)
    told = change_errand(request.app.state.place, uid, handle, form.rev(), typed(form, ErrandForm), form.sent)
    return answer(request, told, back=order_at(uid))


def ran(request: Request) -> Response:
    """It is done, and this came of it."""
    uid, form = request.path_params["uid"], read_form(request)
    told = errand_done(
        request.app.state.place,
        uid,
        request.path_params["handle"],
        form.text("note"),
        form.sent,
        gate_answer=form.text("gate_answer"),
        promised_on=form.text("promised_on"),
    )
    return answer(request, told, back=order_at(uid))


def gather(request: Request) -> Response:
    """A batch is begun."""
    uid, form = request.path_params["uid"], read_form(request)
    told = note_batch(request.app.state.place, uid, typed(form, BatchForm), form.sent)
    return answer(request, told, back=order_at(uid))


def change_gathered(request: Request) -> Response:
    uid, handle, form = request.path_params["uid"], request.path_params["handle"], read_form(request)
    told = change_batch(request.app.state.place, uid, handle, form.rev(), typed(form, BatchForm), form.sent)
    return answer(request, told, back=order_at(uid))


def own_job(request: Request) -> Response:
    """A job that only the owner knows of; its card takes the rest."""
    uid, form = request.path_params["uid"], read_form(request)
    told = new_job(request.app.state.place, uid, typed(form, JobForm), form.sent)
    return answer(request, told, back=card_at(uid, f"job:{told.handle}"))


def brought_or_fetched(request: Request) -> Response:
    uid, form = request.path_params["uid"], read_form(request)
    told = batch_state(request.app.state.place, uid, request.path_params["handle"], form.text("state"), form.sent)
    return answer(request, told, back=order_at(uid))


def warm_and_cold(request: Request) -> Response:
    uid = request.path_params["uid"]
    told = after_ride.heat_cycle(request.app.state.place, uid, read_form(request).sent)
    return answer(request, told, back=order_at(uid))


def ridden(request: Request) -> Response:
    uid, form = request.path_params["uid"], read_form(request)
    told = after_ride.ridden(request.app.state.place, uid, form.text("ridden"), form.sent)
    return answer(request, told, back=order_at(uid))


routes: list[BaseRoute] = [
    Route("/machine/{uid}/order", order, methods=["GET"]),
    Route("/machine/{uid}/errands", take_on, methods=["POST"]),
    Route("/machine/{uid}/errands/{handle}", change_trip, methods=["POST"]),
    Route("/machine/{uid}/errands/{handle}/done", ran, methods=["POST"]),
    Route("/machine/{uid}/batches", gather, methods=["POST"]),
    Route("/machine/{uid}/batches/{handle}", change_gathered, methods=["POST"]),
    Route("/machine/{uid}/jobs", own_job, methods=["POST"]),
    Route("/machine/{uid}/batches/{handle}/state", brought_or_fetched, methods=["POST"]),
    Route("/machine/{uid}/heat", warm_and_cold, methods=["POST"]),
    Route("/machine/{uid}/ridden", ridden, methods=["POST"]),
]
