"""The one thing to do next. There is always one: a machine is asked after, tried, worked on, waited for, proved, or let
go.

The order is that of a careful rebuilder: first what may sink the project and costs minutes, then the look on which the
verdict rests, then what can be done with what is here, then what must be ordered, then waiting, and in the end the
proofs without which nobody rides it. Common practice throughout, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from wreckwright.answers.next_questions import Case, about_gate, ask_or_look, look_before_start
from wreckwright.answers.next_work import Hands
from wreckwright.answers.plan_types import Evening
from wreckwright.answers.plan_words import small
from wreckwright.answers.types import Bid, FitList, NextStep, Verdict
from wreckwright.answers.words import OPTION_WORDS, in_ten, listed, money
from wreckwright.futures.gates import GateNeed, gates_of
from wreckwright.futures.needs import GONE_STATES, LEAST_MINUTES_LEFT, REPAIR_MINUTES_FACTOR, default_remedy
from wreckwright.futures.worth import LAST_GATE
from wreckwright.record.evidence import CLOSED_STATES
from wreckwright.record.known import YES_IN_THE_END, Known, KnownBad, name_shown
from wreckwright.record.types import Job, PartLine
from wreckwright.trade.types import Component, Trade

ON_ITS_WAY = ("deposit_paid", "ordered", "shipped", "part_arrived")
TO_BE_ORDERED = ("wanted", "kept_back")
MENDED = ("repair", "modify")
NAMED = 3
"""So many things waited for are named."""
SEVERITY_WORDS = {1: "looks", 2: "works badly", 3: "can hurt"}


def next_step(
    known: Known, trade: Trade, *, damage: Mapping[str, float], cause_chance: Mapping[str, float], verdict: Verdict,
    bid: Bid, fit: FitList, evening: Evening | None = None,
) -> NextStep:
    """The one thing to do next with this machine.

    `damage`: component -> chance that it is bad; `cause_chance`: what happened -> chance; both 0 to 1, as `Futures` has
    them. `trade` must be the data that fit the machine (mirrored for a mirrored one). `evening`: what tonight's list is
    made from; where the next step is work or a test, it is then what stands first on that list.
    """
    bench, outside = gates_of(known, trade)
    case = Case(
        known=known, trade=trade, damage=damage, cause_chance=cause_chance, bench=bench, outside=outside
    )
    if not known.bought:
        return ask_or_look(case) or _look_it_rests_on(case, verdict) or _price(bid)
    hands = Hands(case, evening) if evening is not None else None
    steps: tuple[Callable[[], NextStep | None], ...] = (
        lambda: ask_or_look(case),
        lambda: _way_round(case),
        lambda: _look_it_rests_on(case, verdict),
        lambda: _let_go(verdict),
        lambda: _fit_what_is_here(case),
        lambda: _own_job(case),
        lambda: _bench_test(case),
        lambda: _order(case),
        lambda: _mend_or_get(case),
        lambda: _first_start(case),
        lambda: _answer_for_good(case),
        # Nobody is sent to wait while something can be done, or to prove what is not finished.
        lambda: hands.first if hands is not None else None,
        lambda: _wait(case),
        lambda: _prove(case, fit),
    )
    for step in steps:
        found = step()
        if hands is not None:
            found = hands.agreed(found)
        if found is not None:
            return found
    last = _ride_or_sell(case)
    return last if hands is None else hands.agreed(last) or last


def _way_round(case: Case) -> NextStep | None:
    for need in (*case.outside, *case.bench):
        if need.answered_no and need.ways:
            way = need.ways[0]
            cost = money(way.price_minor[1], case.known.machine.currency)
            return NextStep(
                kind="do", words=way.name, minutes=way.minutes[1] or None, gate=need.id,
                why=f"'{need.question}' was answered no; this is the first way round "
                    f"(works {in_ten(way.chance)}, some {cost}).",
                cautions=case.cautions(*about_gate(case, need)),
            )
    return None


def _look_it_rests_on(case: Case, verdict: Verdict) -> NextStep | None:
    """The dearest suspicion, where the verdict rests on what we guess of the damage."""
    doubt = verdict.map_doubt
    if doubt is None or not doubt.rests_on_it:
        return None
    by_name = {small(name_shown(row, case.known)): row for row in case.trade.components.values()}
    for name in doubt.look_first:
        component = by_name.get(name)
        if component is None or case.looked_at(component.id):
            continue
        words, minutes = f"Look at the {name}: {small(component.look_how)}", component.look_minutes
        covers: tuple[str, ...] = ()
        made = ""
        about: tuple[str, ...] = (component.id,)
        if case.power_risk:
            # How a part is looked at may ask for power or a turning engine: here only what does neither.
            look = case.quickest_harmless((component.id,))
            if look is None or case.done(look[0]):
                continue
            check, minutes = look
            words, covers, about = f"{check.name}, for the {name}", check.covers, (component.id, check.id)
            made = check.id
        if not case.known.bought and (covers or component.seen_from not in ("walk_round", "papers")):
            continue
        return NextStep(
            kind="look", words=words, minutes=minutes, check=made,
            why=f"The verdict rests on our guess of how much is damaged ({in_ten(doubt.flip_chance)} that another "
                "choice is best), and this look would settle most of it.",
            cautions=case.cautions(about=(*about, *covers)),
        )
    return None


def _let_go(verdict: Verdict) -> NextStep | None:
    if verdict.choice not in ("sell_as_it_stands", "part_out"):
        return None
    words = OPTION_WORDS[verdict.choice]
    return NextStep(
        kind="sell", words=f"{words[0].upper()}{words[1:]}", minutes=None, why=_first_clause(verdict.why)
    )


def _fit_what_is_here(case: Case) -> NextStep | None:
    for line in case.known.parts:
        if line.state == "here":
            component = case.trade.components.get(line.component)
            return NextStep(
                kind="fit", words=f"Fit: {_line_name(case, line)}",
                minutes=_minutes(case, component, component.covers) if component else None,
                why="It is here and not fitted; whether it fits shows only on the machine, and wrong parts go back "
                    "only for a while.",
                cautions=case.cautions(about=(component.id, *component.covers) if component else ()),
            )
    return None


def _own_job(case: Case) -> NextStep | None:
    """An open one is finished first; then what the owner says can be done; then what nothing stands in the way of."""
    ready = [job for job in case.known.jobs if job.state not in CLOSED_STATES and _can_be_done(case, job)]
    order = ("open", "can_be_done", "not_yet")
    job = min(ready, key=lambda one: (order.index(one.state), not one.before_gate), default=None)
    if job is None:
        return None
    why = {
        "open": "It is begun; an open job holds the covers off and is forgotten piece by piece.",
        "can_be_done": "Nothing stands in its way.",
        "not_yet": "All that comes before it is done, and what it needs is here.",
    }[job.state]
    component = case.trade.components.get(job.component)
    covers = job.covers or (component.covers if component else ())
    return NextStep(
        kind="do", words=job.name, minutes=_own_minutes(case, job, component), why=why,
        cautions=case.cautions(about=(*covers, *((component.id,) if component else ()))),
    )


def _can_be_done(case: Case, job: Job) -> bool:
    if job.state != "not_yet":
        return True
    finished = {other.id for other in case.known.jobs if other.state in CLOSED_STATES}
    here = {line.id for line in case.known.parts if line.state in ("here", "fitted")}
    return finished.issuperset(job.after) and here.issuperset(job.parts)


def _own_minutes(case: Case, job: Job, component: Component | None) -> float | None:
    if job.minutes is None:
        return _minutes(case, component, job.covers or component.covers) if component else None
    return max(job.minutes.likely - (job.done_minutes or 0.0), LEAST_MINUTES_LEFT * job.minutes.likely)


def _bench_test(case: Case) -> NextStep | None:
    """A question of the bench that can be tried now, before money goes into what is worth little after a no."""
    waiting = {job.before_gate for job in case.known.jobs if job.state not in CLOSED_STATES}
    own = {gate.id: gate.template or gate.id for gate in case.known.gates}
    for need in case.bench:
        if need.id == LAST_GATE or need.answered_no or need.wants_runners:
            continue
        if not any(own.get(name, name) == need.id for name in waiting):
            return _test(case, need, why="It comes before money for parts that are worth little after a no.")
    return None


def _test(case: Case, need: GateNeed, *, why: str, how: str = "Try it on the bench") -> NextStep:
    return NextStep(
        kind="look", words=f"{how}: {need.question}", gate=need.id,
        minutes=need.minutes[1] * case.known.pace + case.cover_minutes(need.covers_off),
        why=f"{why} A no: {in_ten(case.chance_of_no(need))}, trade judgement.",
        cautions=case.cautions(*about_gate(case, need), about=need.covers_off),
    )


def _order(case: Case) -> NextStep | None:
    """A part line that is wanted, and that no open question holds back."""
    open_gates = {need.id for need in (*case.bench, *case.outside)}
    own = {gate.id: gate.template or gate.id for gate in case.known.gates}
    for line in case.known.parts:
        held = line.held_until_gate
        if line.state not in TO_BE_ORDERED or own.get(held, held) in open_gates:
            continue
        price = f" ({money(line.price_minor, case.known.machine.currency)})" if line.price_minor is not None else ""
        source = f" from {line.supplier}" if line.supplier else ""
        return NextStep(
            kind="get", words=f"Order{source}: {_line_name(case, line)}{price}", minutes=None,
            why="It is wanted, nothing holds it back, and the wait for it begins when it is ordered.",
        )
    return None


def _mend_or_get(case: Case) -> NextStep | None:
    """Something found bad of which no part is on its way and no job is written: what can hurt first."""
    lines = {line.component for line in case.known.parts if line.state not in GONE_STATES}
    jobs = {job.component for job in case.known.jobs if job.state not in CLOSED_STATES}
    for bad in sorted(case.known.bad, key=lambda one: -one.severity):
        component = case.trade.components.get(bad.component)
        if component is None or component.id in lines | jobs:
            continue
        remedy = case.known.remedies.get(component.id) or default_remedy(
            component, severity=bad.severity, missing=bad.missing
        )
        if remedy != "leave":
            return _put_right(case, bad, component, remedy)
    return None


def _put_right(case: Case, bad: KnownBad, component: Component, remedy: str) -> NextStep:
    name = small(name_shown(component, case.known))
    seen = "missing" if bad.missing else SEVERITY_WORDS[bad.severity]
    why = f"Found bad ({seen}), and "
    if remedy in MENDED:
        return NextStep(
            kind="do", words=f"{'Modify' if remedy == 'modify' else 'Mend'} the {name}",
            minutes=_minutes(case, component, component.covers, factor=REPAIR_MINUTES_FACTOR),
            why=f"{why}nothing but work is wanted for it.",
            cautions=case.cautions(about=(component.id, *component.covers)),
        )
    return NextStep(
        kind="get", words=f"Find and order: {name} ({remedy})", minutes=None,
        why=f"{why}no part for it is wanted, ordered or here.",
    )


def _first_start(case: Case) -> NextStep | None:
    """The first start, once nothing known keeps the engine from being started; on a machine that may have been wet,
    burnt or long stored, first the looks without which nobody starts it."""
    stopped = any(case.trade.components[name].run == "stop" for name in case.bad if name in case.trade.components)
    need = next((one for one in case.bench if one.wants_runners and not one.answered_no), None)
    if need is None or stopped:
        return None
    check = look_before_start(case)
    if check is not None:
        return NextStep(
            kind="look", words=check.name, minutes=check.minutes + case.cover_minutes(check.covers), check=check.id,
            why="If it may have been wet, burnt, long stored or taken apart, nobody starts it before this was looked "
                "at.",
            cautions=case.cautions(check.caution, about=(check.id, *check.covers)),
        )
    return _test(case, need, why="Nothing that is known keeps it from being started.")


def _answer_for_good(case: Case) -> NextStep | None:
    """An outside question that nobody waits for."""
    for need in case.outside:
        if need.wait_days is None and not need.answered_no:
            return NextStep(
                kind="ask", minutes=None, gate=need.id,
                words=f"Have it answered for good, and write the answer down: {need.question}",
                why=f"A first answer is not enough before money (a no: {in_ten(case.chance_of_no(need))}, trade "
                    "judgement).",
                cautions=case.cautions(*about_gate(case, need)),
            )
    return None


def _wait(case: Case) -> NextStep | None:
    lines = [line for line in case.known.parts if line.state in ON_ITS_WAY]
    waits = [small(_line_name(case, line)) + _since(case.known, line) for line in lines]
    waits += [f"the answer to '{need.question}'" for need in case.outside if need.wait_days is not None
              and not need.answered_no]
    if not waits:
        return None
    more = f" and {len(waits) - NAMED} more" if len(waits) > NAMED else ""
    named = listed(tuple(waits[:NAMED])) if not more else ", ".join(waits[:NAMED]) + more
    return NextStep(
        kind="wait", words=f"Wait for {named}", minutes=None,
        why="Nothing else is left to look at, to do or to order before that.",
    )


def _since(known: Known, line: PartLine) -> str:
    if line.ordered_on is None:
        return ""
    days = (known.as_of - line.ordered_on).days
    return f" (ordered {days} day{'' if days == 1 else 's'} ago)" if days > 0 else ""


def _prove(case: Case, fit: FitList) -> NextStep | None:
    """The next heading of the fit-to-ride list; first one under which nothing is known to be bad."""
    left = [entry for entry in fit.items if entry.state != "proved"]
    bad_under = {
        case.trade.components[one.component].fit_to_ride for one in case.known.bad
        if one.severity > 1 and one.component in case.trade.components
    }
    entry = next((one for one in left if one.item not in bad_under), left[0] if left else None)
    if entry is None:
        return None
    paper = ("no pass without a specialist's paper",) if entry.needs_specialist_paper else ()
    under = tuple(row.id for row in case.trade.components.values() if row.fit_to_ride == entry.item)
    return NextStep(
        kind="prove", words=f"Prove it by hand: {entry.name}. {entry.how_proved}", minutes=None, why=entry.reason,
        cautions=case.cautions(*paper, about=under),
    )


def _ride_or_sell(case: Case) -> NextStep:
    """Every heading is proved."""
    answered = any(
        (gate.template or gate.id) == LAST_GATE and gate.answer in YES_IN_THE_END for gate in case.known.gates
    )
    last = next((need for need in case.bench if need.id == LAST_GATE), None)
    if last is not None and not answered:
        return _test(case, last, why="Every heading of the fit-to-ride list is proved.", how="Road test")
    keeps = case.known.machine.owner.aim == "keep"
    return NextStep(
        kind="hand_over", words="Ride it where law, plate and insurance allow" if keeps else "Put it up for sale",
        minutes=None, why="Every heading of the fit-to-ride list is proved, and the road test agrees.",
    )


def _price(bid: Bid) -> NextStep:
    """A lot of which all was asked that can be asked before paying."""
    if bid.walk_away_minor is None:
        return NextStep(kind="bid", words="Leave it", minutes=None, why=_first_clause(bid.why))
    most = money(bid.walk_away_minor, bid.currency)
    return NextStep(
        kind="bid", words=f"Buy it for {most} at most, or leave it", minutes=None, why=_first_clause(bid.why),
    )


def _minutes(
    case: Case, component: Component, covers: tuple[str, ...], *, factor: float = 1.0
) -> float:
    """The trade's minutes at the owner's pace, with covers off and on."""
    return (component.fit_minutes * factor + case.cover_minutes(covers)) * case.known.pace


def _line_name(case: Case, line: PartLine) -> str:
    component = case.trade.components.get(line.component)
    return line.name or (name_shown(component, case.known) if component else line.id)


def _first_clause(why: str) -> str:
    """The head of a sentence whose reasons follow after semicolons."""
    return why.split("; ", 1)[0].rstrip(".") + "."
