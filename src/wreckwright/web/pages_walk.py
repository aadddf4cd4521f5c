"""The walk-round: eight stations in walking order, and one station with its view to tap."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote, urlencode

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wreckwright.acts.page_walk import REST
from wreckwright.acts.pages import ComponentLine, RegionPart, StationPage, station_page, walk_page
from wreckwright.acts.signs import say_sign
from wreckwright.acts.writes import rest_fine
from wreckwright.papers.walk_views import Mark, walk_view
from wreckwright.web.forms import answer, read_form
from wreckwright.web.pages_findings import SEVERITIES, STATES, USUAL_SEVERITY, findings_address
from wreckwright.web.render import render

if TYPE_CHECKING:
    from wreckwright.trade.types import Trade

LOOK = "look"
"""The part of a station's page that changes when a region is tapped; the id of its element."""
OPEN = "open"
"""Where the region that was tapped begins."""
NOTE = "note"
"""Where the component that is being noted begins."""


@dataclass(frozen=True)
class Part:
    """A region of the station as a line of its page."""

    region: RegionPart
    address: str
    """Of the station's page with this region open."""
    words: str
    """What was found in it; empty: nothing so far."""


def walk(request: Request) -> Response:
    """The eight stations, the next one first."""
    with request.app.state.store.reading() as reader:
        page = walk_page(reader, request.app.state.trade, request.path_params["uid"])
    return render(
        request,
        "walk.html",
        page=page,
        next=next((station for station in page.stations if station.next), None),
        found=sum(station.found for station in page.stations),
    )


def station(request: Request) -> Response:
    """One station; in the query `part` is the region that is open, `component` the one that is being noted."""
    uid, name = request.path_params["uid"], request.path_params["station"]
    trade: Trade = request.app.state.trade
    with request.app.state.store.reading() as reader:
        page = station_page(reader, trade, uid, name)
    parts = tuple(
        Part(region, station_address(uid, name, part=region.id), region_words(region))
        for region in page.regions
        if region.components
    )
    opened = next((one for one in parts if one.region.id == request.query_params.get("part")), None)
    component = being_noted(opened, request.query_params.get("component", "")) if opened else None
    # A tapped region asks for the look alone; whoever asks for another part of the page gets the whole of it.
    alone = request.headers.get("hx-target") == LOOK
    return render(
        request,
        "station_look.html" if alone else "station.html",
        page=page,
        station=page.station,
        address=station_address(uid, name),
        parts=parts,
        opened=opened,
        component=component,
        picture=picture(page, parts, opened),
        cautions=cautions(trade, name),
        component_cautions=cautions(trade, component.id) if component else (),
        next=trade.stations.get(page.next_station),
        states=STATES,
        severities=SEVERITIES,
        usual_severity=USUAL_SEVERITY,
    )


def fine(request: Request) -> Response:
    """The rest of what is seen from a station was looked at and is fine."""
    uid, name = request.path_params["uid"], request.path_params["station"]
    told = rest_fine(request.app.state.place, uid, name, read_form(request).sent)
    return answer(request, told, back=station_address(uid, name))


def sign(request: Request) -> Response:
    """A sign that can be seen from a station is there, is not there, or is not known."""
    uid, name = request.path_params["uid"], request.path_params["station"]
    form = read_form(request)
    told = say_sign(request.app.state.place, uid, form.text("sign"), form.text("seen"), form.rev(), form.sent)
    return answer(request, told, back=station_address(uid, name))


def station_address(uid: str, station: str, **query: str) -> str:
    """
    >>> station_address("a1", "nose_on", part="legs")
    '/machine/a1/walk/nose_on?part=legs'
    """
    return f"/machine/{quote(uid, safe='')}/walk/{quote(station, safe='')}" + (f"?{urlencode(query)}" if query else "")


def noting_address(uid: str, trade: Trade, component: str) -> str:
    """Of the page on which what was seen of a component is written down: where it is seen from, with its form open; for
    a hidden part the form of the findings."""
    for name, station in trade.stations.items():
        if component in station.components:
            regions = trade.station_regions.get(name, ())
            part = next((one.region for one in regions if component in one.components), REST)
            return station_address(uid, name, part=part, component=component) + f"#{NOTE}"
    return f"{findings_address(uid)}?{urlencode({'component': component})}"


def region_words(region: RegionPart) -> str:
    """What was found in a region, in few words: it stands in the picture."""
    found = sum(1 + component.more for component in region.components if component.level)
    return f"{found} found" if found else ""


def being_noted(opened: Part, component: str) -> ComponentLine | None:
    """The component whose form is open. Where there is only one to choose, it need not be tapped."""
    inside = opened.region.components
    if not component and len(inside) == 1 and not inside[0].handle:
        return inside[0]
    return next((one for one in inside if one.id == component), None)


def picture(page: StationPage, parts: tuple[Part, ...], opened: Part | None) -> str:
    """The view of the station, each region a link that opens it: in place with a script, else as a page."""
    addresses = {part.region.id: part.address for part in parts}

    def link(region: str) -> Mapping[str, str]:
        address = addresses[region]
        return {
            "href": f"{address}#{OPEN}", "hx_get": address, "hx_target": f"#{LOOK}",
            "hx_swap": f"outerHTML show:#{OPEN}:top", "hx_replace_url": "true",
        }

    marks = [Mark(region=part.region.id, name=part.region.name, words=part.words) for part in parts]
    return walk_view(
        page.station.id, marks, link=link, chosen=opened.region.id if opened else "", mirrored=page.mirrored
    )


def cautions(trade: Trade, subject: str) -> tuple[str, ...]:
    """What the trade data say to take care of at a station, or at a component."""
    return tuple(caution.text for caution in trade.cautions.values() if subject in caution.applies_to)


routes: list[BaseRoute] = [
    Route("/machine/{uid}/walk", walk, methods=["GET"]),
    Route("/machine/{uid}/walk/{station}", station, methods=["GET"]),
    Route("/machine/{uid}/walk/{station}/fine", fine, methods=["POST"]),
    Route("/machine/{uid}/walk/{station}/sign", sign, methods=["POST"]),
]
