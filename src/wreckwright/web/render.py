"""Pages from templates, with what every page needs: token, operation ids, the machines, what was just told."""

from __future__ import annotations

import datetime as dt
import secrets
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

import jinja2
from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse

from wreckwright.errors import NotThere, WreckwrightError
from wreckwright.papers import said, words

if TYPE_CHECKING:
    from wreckwright.acts.pages import Head

LAST_MACHINE = "machine"
"""Begins the name of a cookie: the machine that was looked at last, taken for a tap on a page without one."""
TAPS = (("done", "Done"), ("snag", "Snag"), ("arrived", "Arrived"), ("left_loose", "Left loose"), ("bag", "Bag"))


@dataclass(frozen=True)
class ToldNow:
    """What was just done, for the top of the page that follows."""

    said: str
    change: str
    """Its id, to take it back; empty: there is nothing to take back."""


@dataclass(frozen=True)
class BarMachine:
    """A machine that a tap can be about."""

    uid: str
    nickname: str
    chosen: bool


def new_op() -> str:
    """A fresh operation id for one form.

    >>> len(new_op())
    16
    """
    return secrets.token_hex(8)


def money(amount_minor: int | None, currency: str) -> str:
    """
    >>> money(345_000, "EUR"), money(None, "EUR")
    ('EUR 3,450', '')
    """
    return "" if amount_minor is None else words.money(amount_minor, currency)


def bare_money(amount_minor: int | None, currency: str) -> str:
    """A sum under a heading that names the currency.

    >>> bare_money(-345_000, "EUR"), bare_money(None, "EUR")
    ('-3,450', '')
    """
    return "" if amount_minor is None else words.money(amount_minor, of=currency)


def day(date: dt.date | str | None) -> str:
    """
    >>> day(dt.date(2026, 11, 3)), day("2026-11-03"), day(None)
    ('3 November 2026', '3 November 2026', '')
    """
    return words.day(date[:10] if isinstance(date, str) else date) if date else ""


def moment(at: dt.datetime | None) -> str:
    """Day and time on this computer's clock; an instant without a zone is that already.

    >>> moment(dt.datetime(2026, 11, 3, 14, 2))
    '3 November, 14:02'
    """
    if at is None:
        return ""
    here = at.astimezone() if at.tzinfo else at
    return f"{here.day} {words.MONTHS[here.month - 1]}, {here:%H:%M}"


def inline(svg: str) -> Markup:
    """An SVG file of ours as part of a page.

    >>> inline('<?xml version="1.0" encoding="UTF-8"?>\\n<svg></svg>\\n')
    Markup('<svg></svg>')
    """
    return Markup(svg[svg.index("<svg") :].strip())


def environment() -> jinja2.Environment:
    """The templates, with our filters; everything is escaped, and a name that is not there is an error."""
    made = jinja2.Environment(
        loader=jinja2.PackageLoader("wreckwright.web", "templates"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters |= {
        "money": money,
        "day": day,
        "moment": moment,
        "hours": words.hours,
        "percent": words.percent,
        "minutes": words.minutes,
        "with_days": words.with_days,
        "bare_money": bare_money,
        "basis_words": said.basis_words,
        "sentence": words.sentence,
        "upper_first": words.upper_first,
        "inline": inline,
    }
    made.globals |= {"new_op": new_op, "taps": TAPS}
    return made


def render(request: Request, template: str, status: int = 200, **context: Any) -> HTMLResponse:
    """A page or fragment. Reads the store for its frame, so call it in a thread.

    Always there for a template: `csrf`, `new_op()`, `device`, `path`, `here` (path and query, to come back to), `told`
    (ToldNow or None), `machine` (Head or None: `machine` of the context, else `page.head`), `machines` (for the taps),
    `static(name)`, `taps`.
    """
    state = request.app.state
    machine = context.pop("machine", None) or getattr(context.get("page"), "head", None)
    whole = not request.headers.get("hx-request")
    frame = {
        "csrf": request.state.csrf,
        "device": request.state.device,
        "path": request.url.path,
        "here": request.url.path + (f"?{request.url.query}" if request.url.query else ""),
        "static": state.statics.address,
        "machine": machine,
        "machines": bar_machines(request, machine) if whole else (),
        "told": told_now(request) if whole else None,
    }
    page = HTMLResponse(state.templates.get_template(template).render(frame | context), status_code=status)
    if machine is not None and request.cookies.get(last_machine(request)) != machine.uid:
        page.set_cookie(last_machine(request), machine.uid, max_age=365 * 24 * 3600, httponly=True, samesite="lax")
    return page


def last_machine(request: Request) -> str:
    """Name of the cookie: of this data folder, for a browser gives it to the pages of every other one on this host."""
    return f"{LAST_MACHINE}_{request.state.cookie_suffix}"


def bar_machines(request: Request, machine: Head | None) -> tuple[BarMachine, ...]:
    """The machines a tap can be about: that of the page, else all, the last one looked at chosen."""
    if machine is not None:
        return (BarMachine(machine.uid, machine.nickname, True),)
    with request.app.state.store.reading() as reader:
        heads = reader.machines()
    last = request.cookies.get(last_machine(request))
    chosen = last if any(head.uid == last for head in heads) else (heads[0].uid if heads else "")
    return tuple(BarMachine(head.uid, head.nickname, head.uid == chosen) for head in heads)


def told_now(request: Request) -> ToldNow | None:
    """What the change named in the query was, and whether it can be taken back."""
    change = request.query_params.get("told")
    if not change:
        return None
    if change == "none":
        return ToldNow("It was so already; nothing was changed.", "")
    try:
        with request.app.state.store.reading() as reader:
            line = reader.change(change)
    except NotThere:
        return None
    if line is None:
        return None
    if line.undone_by:
        return ToldNow(f"{words.sentence(line.what)} Taken back since.", "")
    return ToldNow(words.sentence(line.what), line.id)


def bare_page(error: WreckwrightError, status: int) -> HTMLResponse:
    """A page without style, script, cookie or store: for those who are not let in, and for when nothing else works."""
    sentences = "".join(
        f"<p>{escape(words.sentence(part))}</p>" for part in (error.what, error.allowed, error.do) if part
    )
    return HTMLResponse(
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">'
        f"<title>Wreckwright</title></head><body><main><h1>This did not work</h1>{sentences}</main></body></html>",
        status_code=status,
    )
