"""The plain twin of the lock-step simulator: one future at a time, whole numbers, dictionaries and loops.

Written straight from docs/simulator.md, in the order of its rules; shares no code with `wreckwright.futures.simulate`.
Slow on purpose: every rule is one small method whose text can be laid beside the page. The methods are small also so
that a test can break one of them in a subclass and see that the comparison notices.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from math import inf

import numpy as np

from tests.futures.twin_layout import (
    ACTIVE,
    DISCOVERY,
    DONE,
    FINISHED,
    GATE_FAILED,
    GATE_NO,
    GATE_PASSED,
    INACTIVE,
    NEVER,
    NEVER_CAME,
    NOW,
    OFF_CALENDAR,
    ON_DISCOVERY,
    STOPPED_BY_RULE,
    Bought,
    FutureEnds,
    Layout,
    OutsideAnswer,
    StopMoment,
    Visit,
)
from wreckwright.futures.policy import Policy
from wreckwright.futures.rebuild import Played, Rebuild, Trail, Worlds


class OneFuture:
    """Plays future `f` of `worlds`; `seen` counts what happened in it, for the tests' own bookkeeping."""

    def __init__(self, layout: Layout, worlds: Worlds, f: int) -> None:
        self.layout, self.rebuild, self.policy, self.worlds, self.f = layout, layout.rebuild, layout.policy, worlds, f
        self.seen: Counter[str] = Counter()
        slots, stages = range(layout.n_slots), range(layout.last_stage + 1)
        self.M = [int(m) for m in self.rebuild.cumulative_minutes]
        self.D = len(self.M) - 1
        self.clock = 0
        self.attendance = int(worlds.attendance_permille[f])
        self.starts = [self.start(d) for d in range(self.D)]
        self.stage = 0
        self.state = {j: INACTIVE for j in slots}
        self.off = [cover.off_at_start for cover in self.rebuild.covers]
        self.ended_day: dict[int, int] = {}
        self.left_undone: set[int] = set()
        self.assigned: dict[int, int] = {}
        self.known_bad: set[int] = set()
        self.gate_yes = [bool(worlds.gate_ok[f, k]) for k in stages]
        self.gate_day: dict[int, int] = {}
        self.fallbacks_left = [list(gate.fallbacks) for gate in self.rebuild.bench_gates]
        self.fell_back: set[int] = set()
        self.fallback_release: dict[int, float] = {}
        self.begun_minor = 0
        self.slot_costs = 0
        self.hands_on = 0
        self.waited: Counter[int] = Counter()
        self.waits: list[tuple[int, int, int]] = []
        """(clock at the end of the wait, its minutes, where it was booked)."""
        self.last_wait = -1
        self.end_clock: dict[int, int] = {}
        self.called_clock: dict[int, int] = {}
        self.begun_clock: dict[int, int] = {}
        self.bought: dict[int, Bought] = {}
        self.order_day: dict[int, int] = {}
        self.outside: list[OutsideAnswer] = []
        self.stop: StopMoment | None = None
        self.epochs: dict[int, Visit] = {}
        self.called_now: list[int] = []
        self.status, self.reason, self.day_of_end = -1, -1, -1

    def play(self) -> OneFuture:
        try:
            self.begin()
            while True:
                self.step()
        except FutureEnds:
            return self

    def end(self, status: int, reason: int, day: int) -> None:
        self.status, self.reason, self.day_of_end = status, reason, day
        raise FutureEnds

    def off_calendar(self) -> None:
        self.clock = self.c_end()
        self.end(OFF_CALENDAR, -1, self.D)

    # Time

    def start(self, d: int) -> float:
        """First minute of day `d`; infinite where nothing is worked from that day on."""
        if d >= self.D:
            return inf
        first = -(-self.M[d] * self.attendance // 1000)
        return first if first <= self.c_end() else inf

    def c_end(self) -> int:
        return self.M[self.D] * self.attendance // 1000

    def day(self, c: int) -> int:
        """The day on which the moment `c` ends."""
        if c == 0:
            return 0
        q = -(-c * 1000 // self.attendance)
        return max(d for d in range(self.D + 1) if self.M[d] < q)

    # What is there

    def begin(self) -> None:
        self.enter_stage(0)
        self.ask_outside_gates()
        for line in range(len(self.rebuild.lines)):
            trigger = self.layout.trigger[line]
            if self.rebuild.lines[line].already_ordered or trigger == NOW:
                self.order(line, 0)
            elif trigger > self.layout.last_stage:
                yes_day = self.outside[trigger - self.layout.last_stage - 1].yes_day
                if yes_day is not None:
                    self.order(line, yes_day)

    def enter_stage(self, k: int) -> None:
        for j, slot in enumerate(self.rebuild.slots):
            if self.layout.is_stage_work(j, k) or (slot.kind == "follow_up" and self.assigned.get(j) == k):
                self.activate(j)
        self.activate(self.rebuild.bench_gates[k].slot)

    def activate(self, j: int) -> None:
        if self.state[j] == INACTIVE:
            self.state[j] = ACTIVE

    def demand(self) -> set[int]:
        """Covers that some active, undone slot has in its opening."""
        wanted: set[int] = set()
        for j, state in self.state.items():
            if state == ACTIVE:
                wanted |= self.layout.opening[j]
        return wanted

    def can_come_off(self, x: int, demand: set[int]) -> bool:
        return not self.off[x] and x in demand and all(self.off[u] for u in self.rebuild.covers[x].under)

    def can_go_on(self, x: int, demand: set[int]) -> bool:
        beneath = [y for y, cover in enumerate(self.rebuild.covers) if x in cover.under]
        return (
            self.off[x]
            and x not in demand
            and not any(self.off[y] for y in beneath)
            and x in self.layout.closing[self.stage]
        )

    # Somebody helps

    def today(self, c: int) -> int:
        """The last day that has started at the clock `c`."""
        return bisect_right(self.starts, c) - 1

    def is_helped(self, c: int) -> bool:
        return self.rebuild.helper_day is None or bool(self.rebuild.helper_day[self.today(c)])

    def with_helper(self, release: float) -> float:
        """The first moment, not before `release` and not in the past, at which somebody helps."""
        first = max(release, self.clock)
        for c in [first, *(c for c in self.starts if c > first)]:
            if c < inf and self.is_helped(int(c)):
                return c
        return inf

    # When a slot can be done

    def release(self, j: int) -> float | None:
        """Clock from which slot `j` could be done as things stand; None if it could not be done at any clock."""
        slot = self.rebuild.slots[j]
        if self.state[j] != ACTIVE:
            return None
        if any(self.state[i] == ACTIVE for i in slot.after):
            return None
        if any(not self.off[x] for x in slot.covers):
            return None
        moments: list[float] = [0, self.fallback_release.get(j, 0)]
        for line in slot.lines:
            moment = self.line_release(line)
            if moment is None:
                return None
            moments.append(moment)
        for o in slot.outside:
            yes_day = self.outside[o].yes_day
            if yes_day is None:
                return None
            moments.append(self.start(yes_day))
        moments += [self.cured(i) for i in slot.after if self.state[i] == DONE]
        if slot.kind == "gate":
            before = self.held_up_by(self.layout.gate_stage[j])
            if any(self.state[i] == ACTIVE for i in before):
                return None
            if any(self.off[x] for x in self.layout.closing[self.layout.gate_stage[j]]):
                return None
            moments += self.cures_for_gate(before)
        return self.with_helper(max(moments)) if self.needs_helper(j) else max(moments)

    def needs_helper(self, j: int) -> bool:
        return self.rebuild.slots[j].helper and not self.is_left_undone(j)

    def release_of_cover(self, x: int) -> float:
        return self.with_helper(0) if self.rebuild.covers[x].helper else 0

    def is_left_undone(self, j: int) -> bool:
        """Whether slot `j` would be left undone if its turn came now."""
        return self.falls_with(j) or any(self.line_never_comes(line) for line in self.rebuild.slots[j].lines)

    def falls_with(self, j: int) -> bool:
        return self.rebuild.slots[j].part_of in self.left_undone

    def held_up_by(self, k: int) -> list[int]:
        """Active or done slots for which gate `k` waits."""
        found = []
        for j, slot in enumerate(self.rebuild.slots):
            if self.state[j] == INACTIVE:
                continue
            stage = self.policy.stage[j]
            if slot.kind == "gate":
                continue
            if slot.kind == "follow_up":
                stage = self.assigned[j]
            if slot.kind == "fallback":
                stage = self.layout.fallback_gate[j]
            if stage <= k:
                found.append(j)
        return found

    def cures_for_gate(self, before: list[int]) -> list[float]:
        return [self.cured(i) for i in before]

    def cured(self, i: int) -> float:
        """Clock from which the cure of a done slot has run out."""
        cure_days = 0 if i in self.left_undone else self.rebuild.slots[i].cure_days
        return self.start(self.ended_day[i] + cure_days) if cure_days > 0 else 0

    def line_release(self, line: int) -> float | None:
        essential = self.rebuild.slots[self.rebuild.lines[line].slot].essential
        if line not in self.order_day:
            if self.layout.trigger[line] == NEVER and not essential:
                return 0
            return None
        bought = self.bought[line]
        if bought.arrival is not None:
            return self.start(self.order_day[line] + bought.arrival)
        assert bought.known is not None
        return None if essential else self.start(self.order_day[line] + bought.known)

    def line_never_comes(self, line: int) -> bool:
        if line in self.bought:
            return self.bought[line].arrival is None
        return self.layout.trigger[line] == NEVER

    # One step

    def step(self) -> None:
        if self.stop is not None and self.stop.clock <= self.clock:
            self.seen["ended at a stop moment"] += 1
            self.end(self.stop.status, self.stop.reason, max(self.day(self.clock), self.stop.day))
        waiting: list[tuple[float, int]] = []
        demand = self.demand()
        n_slots, n_covers = self.layout.n_slots, self.layout.n_covers
        for i in self.layout.by_rank:
            if i >= n_slots:
                x, off = (i - n_slots) % n_covers, i < n_slots + n_covers
                if not (self.can_come_off(x, demand) if off else self.can_go_on(x, demand)):
                    continue
                release = self.release_of_cover(x)
                if release <= self.clock:
                    return self.move_cover(i, x, off=off)
                waiting.append((release, i))
            else:
                release = self.release(i)
                if release is not None and release <= self.clock:
                    return self.do(i)
                if release is not None:
                    waiting.append((release, i))
        self.wait(waiting)

    def wait(self, waiting: list[tuple[float, int]]) -> None:
        """`waiting` holds release and slot, lowest rank first."""
        release, slot = min(waiting, key=lambda pair: pair[0], default=(inf, -1))
        to = min(release, self.stop.clock) if self.stop is not None else release
        if not waiting and self.stop is None:
            self.seen["nothing to wait for"] += 1
        if to > self.c_end():
            self.off_calendar()
        if self.stop is None or release < self.stop.clock:
            self.book_wait(slot, int(to) - self.clock, release)
        self.clock = int(to)

    def book_wait(self, work: int, minutes: int, release: float) -> None:
        self.last_wait = self.booked_on(work, release)
        self.waited[self.last_wait] += minutes
        self.waits.append((int(release), minutes, self.last_wait))

    def booked_on(self, work: int, release: float) -> int:
        if work >= self.layout.n_slots:
            self.seen["cover waited for a helper"] += 1
            return work
        slot = self.rebuild.slots[work]
        for o in sorted(slot.outside):
            yes_day = self.outside[o].yes_day
            assert yes_day is not None
            if self.start(yes_day) == release:
                self.seen["waited for outside gate"] += 1
                return self.layout.n_slots + 2 * self.layout.n_covers + o
        came = any(self.line_release(line) == release for line in slot.lines)
        what = "line" if came else "helper" if self.needs_helper(work) else "cure or fallback"
        self.seen[f"waited for {what}"] += 1
        return work

    def spend(self, minutes: int) -> None:
        if self.clock + minutes > self.c_end():
            self.off_calendar()
        self.clock += minutes
        self.hands_on += minutes

    def move_cover(self, column: int, x: int, *, off: bool) -> None:
        self.spend(int(self.worlds.minutes[self.f, column]))
        self.end_clock[column] = self.clock
        self.off[x] = off
        self.seen[f"cover {x} off"] += off
        if off and self.seen[f"cover {x} off"] > 1:
            self.seen["cover opened again"] += 1

    def do(self, j: int) -> None:
        undone = self.is_left_undone(j)
        if undone and self.falls_with(j):
            self.seen["left undone with its slot"] += 1
        if not undone and self.rebuild.slots[j].helper and self.rebuild.helper_day is not None:
            self.seen["begun with a helper"] += 1
        self.spend(self.minutes_of(j, undone))
        self.end_clock[j] = self.clock
        self.slot_ends(j, undone)

    def minutes_of(self, j: int, undone: bool) -> int:
        return 0 if undone else int(self.worlds.minutes[self.f, j])

    # When a slot ends

    def slot_ends(self, j: int, undone: bool) -> None:
        d = self.day(self.clock)
        slot = self.rebuild.slots[j]
        self.state[j] = DONE
        self.ended_day[j] = d
        if slot.kind in ("job", "look") and self.policy.stage[j] > self.stage:
            self.seen["meanwhile work done"] += 1
        self.called_now = []
        activated = False
        if undone:
            self.left_undone.add(j)
            self.seen["left undone"] += 1
        else:
            self.slot_costs += int(self.worlds.slot_minor[self.f, j])
            activated = self.expose(j, d)
            if slot.kind == "look" and slot.rough_gate >= 0:
                self.foretell(j, d)
        if slot.kind == "gate":
            self.gate_ends(j, d, activated)
        elif slot.kind == "fallback":
            self.fallback_ends(j, d)
        if slot.kind != "gate":
            self.visit_discovery(d)

    def expose(self, j: int, d: int) -> bool:
        """Whether a slot of a stage not later than the present one has become active."""
        activated = False
        for n, entry in enumerate(self.rebuild.slots[j].exposes):
            if not self.worlds.cries[self.f, self.layout.first_cry[j] + n]:
                continue
            if entry.component in self.known_bad:
                self.seen["second cry"] += 1
                continue
            self.known_bad.add(entry.component)
            follow_up = self.layout.follow_up[entry.component]
            self.seen["discovery"] += 1
            if self.rebuild.slots[j].kind == "follow_up":
                self.seen["discovery chain"] += 1
            if self.rebuild.slots[j].kind == "gate":
                self.seen["discovery at a gate"] += 1
            self.called_now.append(follow_up)
            self.called_clock[entry.component] = self.clock
            self.assigned[follow_up] = self.stage_of_follow_up(follow_up)
            if self.assigned[follow_up] <= self.stage:
                self.activate(follow_up)
                activated = True
            else:
                self.seen["discovery for a later stage"] += 1
            self.miss_earlier_orders(follow_up)
            for line in self.rebuild.slots[follow_up].lines:
                if self.layout.trigger[line] == ON_DISCOVERY:
                    self.order(line, d)
        return activated

    def stage_of_follow_up(self, j: int) -> int:
        k = self.stage
        s0 = max(k, self.policy.stage[j])
        needed_by = self.rebuild.slots[j].needed_by
        last = needed_by if needed_by >= k else self.layout.last_stage
        if needed_by < k:
            self.seen["discovery after its gate"] += 1
        s0 = min(s0, last)
        for s in range(s0, last + 1):
            if all(self.open_anyway(x, s) for x in self.layout.opening[j]):
                return s
        return s0

    def open_anyway(self, x: int, s: int) -> bool:
        if s == self.stage:
            return self.off[x] or x in self.demand()
        users = [j for j in self.state if self.layout.is_stage_work(j, s)] + [self.rebuild.bench_gates[s].slot]
        return any(x in self.layout.opening[j] for j in users)

    def foretell(self, j: int, d: int) -> None:
        g = self.rebuild.slots[j].rough_gate
        if not self.worlds.foretells[self.f, j]:
            return
        if g in self.gate_day or g in self.fell_back or self.gate_yes[g]:
            self.seen["foretold in vain"] += 1
            return
        if self.fallbacks_left[g]:
            self.seen["foretold"] += 1
            self.begin_fallback(g, d)

    def begin_fallback(self, g: int, d: int) -> None:
        j = self.fallbacks_left[g].pop(0)
        self.seen["second fallback" if g in self.fell_back else "fallback"] += 1
        self.fell_back.add(g)
        column = self.layout.fallback_column[j]
        self.begun_clock[column] = self.clock
        self.begun_minor += int(self.worlds.fallback_minor[self.f, column])
        self.activate(j)
        self.fallback_release[j] = self.start(d + int(self.worlds.fallback_days[self.f, column]))
        self.miss_earlier_orders(j)

    def gate_ends(self, j: int, d: int, activated: bool) -> None:
        k = self.layout.gate_stage[j]
        if activated:
            self.seen["gate to be done again"] += 1
            self.state[j] = ACTIVE
            self.visit_discovery(d)
            return
        self.visit_discovery(d)
        if self.gate_yes[k]:
            self.pass_gate(k, d)
        else:
            self.seen["gate failed"] += 1
            self.fail_gate(k, j, d)

    def pass_gate(self, k: int, d: int) -> None:
        self.gate_day[k] = d
        if k == self.layout.last_stage:
            self.order_on_gate(k, d)
            self.end(FINISHED, -1, d)
        self.stage = k + 1
        self.visit(k, GATE_PASSED, d)
        self.order_on_gate(k, d)
        self.enter_stage(k + 1)

    def order_on_gate(self, k: int, d: int) -> None:
        for line, trigger in enumerate(self.layout.trigger):
            if trigger == k:
                self.order(line, d)

    def fail_gate(self, k: int, j: int, d: int) -> None:
        if not self.fallbacks_left[k]:
            self.end(GATE_NO, k, d)
        self.state[j] = ACTIVE
        self.visit(k, GATE_FAILED, d)
        self.begin_fallback(k, d)
        self.meanwhile(k)

    def meanwhile(self, k: int) -> None:
        """Work of the next stage that leaves alone the covers the test needs."""
        for i in self.state:
            if self.layout.is_stage_work(i, k + 1) and not self.layout.opening[i] & self.layout.closing[k]:
                self.activate(i)
                self.seen["meanwhile work called"] += 1

    def fallback_ends(self, j: int, d: int) -> None:
        g = self.layout.fallback_gate[j]
        if self.worlds.fallback_ok[self.f, self.layout.fallback_column[j]]:
            self.gate_yes[g] = True
            self.seen["fallback helped"] += 1
        elif self.fallbacks_left[g]:
            self.begin_fallback(g, d)
        else:
            self.end(GATE_NO, g, d)

    # Lines

    def order(self, line: int, d: int) -> None:
        if line in self.order_day:
            return
        self.order_day[line] = d
        self.bought[line] = self.buy(line)
        self.miss(line)

    def miss_earlier_orders(self, j: int) -> None:
        """Slot `j` is wanted from this moment on; what was ordered for it before may be known to be lost."""
        before = self.stop
        for line in self.rebuild.slots[j].lines:
            if line in self.order_day:
                self.miss(line)
        self.seen["wanted although its part is lost"] += self.stop is not before

    def miss(self, line: int) -> None:
        """If an ordered line never comes and its slot cannot do without: it is known when the future must end."""
        bought, slot = self.bought[line], self.rebuild.lines[line].slot
        if bought.arrival is not None or not self.rebuild.slots[slot].essential:
            return
        assert bought.known is not None
        if self.is_wanted(slot):
            self.seen["never comes, of an essential slot"] += 1
            self.set_stop(self.order_day[line] + bought.known, NEVER_CAME, line)

    def is_wanted(self, j: int) -> bool:
        """Whether the project cannot do without the slot as far as is known: there from the start, called or begun."""
        slot = self.rebuild.slots[j]
        if slot.kind == "follow_up":
            return slot.component in self.known_bad
        if slot.kind == "fallback":
            return self.state[j] != INACTIVE
        return slot.kind in ("job", "gate") or (slot.kind == "look" and self.policy.looks[j])

    def buy(self, line: int) -> Bought:
        s, b, w = (
            self.policy.line_source[line],
            self.policy.plan_b_source[line],
            self.policy.plan_b_after_days[line],
        )
        lead, price = self.lead(line, s), self.price(line, s)
        cancel_days = self.rebuild.lines[line].sources[s].cancel_days
        if b == -1 or (lead is not None and (w == -1 or lead <= w)):
            if lead is not None:
                return Bought(price, lead)
            self.seen["never comes"] += 1
            return Bought(price - self.refund(line, s, price), None, cancel_days)
        x = self.plan_b_day(lead, w, cancel_days)
        paid = price - self.refund(line, s, price) + self.price(line, b)
        lead_b = self.lead(line, b)
        if lead_b is not None:
            return Bought(paid, x + lead_b)
        self.seen["never comes, plan B included"] += 1
        return Bought(
            paid - self.refund(line, b, self.price(line, b)),
            None,
            x + self.rebuild.lines[line].sources[b].cancel_days,
        )

    def plan_b_day(self, lead: int | None, w: int, cancel_days: int) -> int:
        """Days from the order to the change of source."""
        if lead is not None:
            self.seen["plan B because late"] += 1
            return w
        self.seen["plan B because never"] += 1
        if w == -1:
            return cancel_days
        return min(w, cancel_days)

    def lead(self, line: int, s: int) -> int | None:
        """Days until it has come; None: never."""
        first = int(self.worlds.lead_days[self.f, line, s])
        if first == -1:
            return None
        if not self.worlds.wrong[self.f, line, s]:
            return first
        self.seen["wrong part"] += 1
        second = int(self.worlds.second_lead_days[self.f, line, s])
        return None if second == -1 else first + second

    def price(self, line: int, s: int) -> int:
        price = int(self.worlds.price_minor[self.f, line, s])
        if self.worlds.wrong[self.f, line, s] and self.worlds.lead_days[self.f, line, s] != -1:
            price += int(self.worlds.wrong_minor[self.f, line, s])
        return price

    def refund(self, line: int, s: int, price: int) -> int:
        return price * self.rebuild.lines[line].sources[s].refund_permille // 1000

    def set_stop(self, d: int, status: int, reason: int) -> None:
        """The earliest counts; of equal ones the one set first. None lies before the moment at which it is set."""
        clock = max(self.start(d), self.clock)
        if clock < inf and (self.stop is None or clock < self.stop.clock):
            self.stop = StopMoment(clock, d, status, reason)

    def resale(self, d: int) -> int:
        total = 0
        for line, ordered in self.order_day.items():
            slot = self.rebuild.lines[line].slot
            if ordered <= d and (self.state[slot] != DONE or slot in self.left_undone):
                source = self.rebuild.lines[line].sources[self.policy.line_source[line]]
                paid = self.bought[line].paid_minor + self.rebuild.lines[line].sunk_minor
                total += paid * source.resale_permille // 1000
        return total

    def money_out(self, d: int) -> int:
        lines = sum(self.bought[line].paid_minor for line, ordered in self.order_day.items() if ordered <= d)
        outside = sum(paid for answer in self.outside for begun, paid in answer.begun if begun <= d)
        return lines + outside + self.begun_minor + self.slot_costs

    # Outside gates

    def ask_outside_gates(self) -> None:
        for o in range(len(self.rebuild.outside_gates)):
            answer = self.outside_answer(o)
            self.outside.append(answer)
            if answer.yes_day is None:
                self.seen["outside no"] += 1
                self.set_stop(answer.last_no_day, GATE_NO, self.layout.last_stage + 1 + o)

    def outside_answer(self, o: int) -> OutsideAnswer:
        worlds, f = self.worlds, self.f
        answer = OutsideAnswer()
        day, ok = int(worlds.outside_days[f, o]), bool(worlds.outside_ok[f, o])
        if day == -1:
            day, ok = self.D, False
        for r in range(self.rebuild.outside_gates[o].n_fallbacks):
            if ok:
                break
            answer.begun.append((day, int(worlds.outside_fallback_minor[f, o, r])))
            self.seen["outside fallback"] += 1
            day += int(worlds.outside_fallback_days[f, o, r])
            ok = bool(worlds.outside_fallback_ok[f, o, r])
        if ok:
            answer.yes_day = day
        else:
            answer.last_no_day = day
        return answer

    # Stop

    def visit_discovery(self, d: int) -> None:
        cost = 0
        for j in self.called_now:
            cost += self.rebuild.slots[j].mean_minor
            cost += sum(self.line_mean(line) for line in self.rebuild.slots[j].lines)
        if self.big_find(cost) and not any(self.state[j] == ACTIVE for j in self.layout.fallback_gate):
            self.visit(self.stage, DISCOVERY, d)

    def big_find(self, cost: int) -> bool:
        return bool(self.called_now) and cost > self.rebuild.big_find_minor

    def line_mean(self, line: int) -> int:
        return self.rebuild.lines[line].sources[self.policy.line_source[line]].mean_minor

    def visit(self, k: int, kind: int, d: int) -> None:
        epoch = 3 * k + kind
        if epoch in self.epochs:
            return
        self.seen[("epoch discovery", "epoch gate failed", "epoch gate passed")[kind]] += 1
        features = self.features(d)
        self.epochs[epoch] = Visit(d, self.money_out(d), self.resale(d), self.hands_on, features)
        if epoch in self.policy.stop:
            product = 0.0
            for coefficient, feature in zip(self.policy.stop[epoch], features, strict=True):
                product += coefficient * feature
            if product < 0:
                self.end(STOPPED_BY_RULE, epoch, d)

    def features(self, d: int) -> tuple[float, ...]:
        minor, minutes = 0, 0
        for j, slot in enumerate(self.rebuild.slots):
            if self.state[j] == DONE or not self.is_known(j):
                continue
            minutes += slot.mean_minutes
            minor += slot.mean_minor
            minor += sum(self.line_mean(line) for line in slot.lines if not self.is_ordered(line, d))
        x, y, z = minor / 100000, minutes / 600, d / 30
        return (1.0, x, y, z, x * x, y * y, z * z)

    def is_ordered(self, line: int, d: int) -> bool:
        return line in self.order_day and self.order_day[line] <= d

    def is_known(self, j: int) -> bool:
        """Whether the policy would count the slot among the work ahead."""
        slot = self.rebuild.slots[j]
        if slot.kind == "follow_up":
            return slot.component in self.known_bad
        if slot.kind == "fallback":
            return self.state[j] != INACTIVE
        return slot.kind != "look" or self.policy.looks[j]


def play_each(
    rebuild: Rebuild, worlds: Worlds, policy: Policy, *, player: type[OneFuture] = OneFuture
) -> list[OneFuture]:
    """All futures, one after the other."""
    layout = Layout(rebuild, policy)
    return [player(layout, worlds, f).play() for f in range(worlds.n)]


def twin_simulate(
    rebuild: Rebuild, worlds: Worlds, policy: Policy, *, player: type[OneFuture] = OneFuture
) -> Played:
    """Same arguments and result as the lock-step simulator."""
    return gather(rebuild, play_each(rebuild, worlds, policy, player=player))


def gather(rebuild: Rebuild, futures: list[OneFuture]) -> Played:
    """The futures side by side in the arrays of `Played`."""
    n, n_slots, n_covers = len(futures), len(rebuild.slots), len(rebuild.covers)
    stages, n_lines = len(rebuild.bench_gates), len(rebuild.lines)
    played = Played(
        status=np.array([one.status for one in futures], dtype=np.int8),
        reason=np.array([one.reason for one in futures], dtype=np.int32),
        clock=np.array([one.clock for one in futures], dtype=np.int64),
        day=np.array([one.day_of_end for one in futures], dtype=np.int32),
        hands_on_minutes=np.array([one.hands_on for one in futures], dtype=np.int64),
        out_minor=np.array([one.money_out(one.day_of_end) for one in futures], dtype=np.int64),
        resale_minor=np.array(
            [0 if one.status == FINISHED else one.resale(one.day_of_end) for one in futures], dtype=np.int64
        ),
        gate_day=np.full((n, stages), -1, dtype=np.int32),
        fell_back=np.zeros((n, stages), dtype=np.bool_),
        order_day=np.full((n, n_lines), -1, dtype=np.int32),
        left_undone=np.zeros((n, n_slots), dtype=np.bool_),
        done=np.zeros((n, n_slots), dtype=np.bool_),
        known_bad=np.zeros((n, len(rebuild.components)), dtype=np.bool_),
        waited_minutes=np.zeros((n, n_slots + 2 * n_covers + len(rebuild.outside_gates)), dtype=np.int64),
        epoch_reached=np.zeros((n, 3 * stages), dtype=np.bool_),
        epoch_day=np.full((n, 3 * stages), -1, dtype=np.int32),
        epoch_out_minor=np.zeros((n, 3 * stages), dtype=np.int64),
        epoch_resale_minor=np.zeros((n, 3 * stages), dtype=np.int64),
        epoch_minutes=np.zeros((n, 3 * stages), dtype=np.int64),
        epoch_features=np.zeros((n, 3 * stages, 7), dtype=np.float64),
        last_wait=np.array([one.last_wait for one in futures], dtype=np.int32),
        end_clock=_table(n, n_slots + 2 * n_covers, [one.end_clock for one in futures]),
        trail=Trail(
            wait_future=np.array([f for f, one in enumerate(futures) for _ in one.waits], dtype=np.int32),
            wait_clock=np.array([clock for one in futures for clock, _, _ in one.waits], dtype=np.int64),
            wait_minutes=np.array([minutes for one in futures for _, minutes, _ in one.waits], dtype=np.int64),
            wait_column=np.array([column for one in futures for _, _, column in one.waits], dtype=np.int32),
            called_clock=_table(n, len(rebuild.components), [one.called_clock for one in futures]),
            begun_clock=_table(
                n, sum(slot.kind == "fallback" for slot in rebuild.slots), [one.begun_clock for one in futures]
            ),
        ),
    )
    for f, one in enumerate(futures):
        for k, day in one.gate_day.items():
            played.gate_day[f, k] = day
        for k in one.fell_back:
            played.fell_back[f, k] = True
        for line, day in one.order_day.items():
            played.order_day[f, line] = day if day <= one.day_of_end else -1
        for j in one.left_undone:
            played.left_undone[f, j] = True
        for j, state in one.state.items():
            played.done[f, j] = state == DONE
        for component in one.known_bad:
            played.known_bad[f, component] = True
        for column, minutes in one.waited.items():
            played.waited_minutes[f, column] = minutes
        for epoch, visit in one.epochs.items():
            played.epoch_reached[f, epoch] = True
            played.epoch_day[f, epoch] = visit.day
            played.epoch_out_minor[f, epoch] = visit.out_minor
            played.epoch_resale_minor[f, epoch] = visit.resale_minor
            played.epoch_minutes[f, epoch] = visit.minutes
            played.epoch_features[f, epoch] = visit.features
    return played


def _table(n: int, width: int, rows: list[dict[int, int]]) -> np.ndarray:
    table = np.full((n, width), -1, dtype=np.int64)
    for f, row in enumerate(rows):
        for column, clock in row.items():
            table[f, column] = clock
    return table
