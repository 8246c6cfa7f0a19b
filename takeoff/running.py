"""The order in which the punching line runs its bars, so that punches and set-ups change little.

Vocabulary. A *head* is the line's, not the section's: with two heads leg A of every angle
comes before one and leg B before the other, and flats and webs of channels come before the
first; so a punch that stays in its head from an angle to a flat is no change. A *job* is
what one bar pattern needs: tools in heads. Where a bar needs more tools than a head holds
it is several *demands*, run one after the other, piece by piece.

Sections stay together, since changing one means blades and guides. Within a section the
next bar is the one that needs the fewest tools that are not mounted; the order so found is
bettered by moving one bar at a time. With few sections every order of them is tried, and
the order by mark is taken where it needs fewer changes and keeps sections together. Which
tool to take out is then no choice: the one needed again last (keep the tool needed soonest;
Tang and Denardo, "Models arising from a flexible manufacturing machine, part I", Operations
Research 36, 1988), which is the best that can be done for a given order.

It is held against the order by mark twice: with the sections kept together as here, which is
like against like, and bar by bar, which sets sections up again and again.

Sections that the line does not take are left out; holes that it does not make (drilled, cut,
out of its reach) need no punch. A slot is made by hits of a round punch. What it does not
know: how long a change takes, and which tools fit which holder.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import Final

from takeoff.gauges import gauge_lines
from takeoff.order import natural
from takeoff.plans import NEAR_HEEL, BarPattern, BarPlan, Hits, Running, SetUp, Tool
from takeoff.rules import line as limits
from takeoff.rules.punching import CUT, DRILL
from takeoff.settings import LineSettings
from takeoff.steel import ANGLE, CHANNEL, Hole, Piece, Section

FIRST, SECOND = "1", "2"
"""Heads of the line, in the order of the legs of an angle."""
MOVES: Final = 60
"""Jobs of one section up to which moving each to each place is tried."""
SECTIONS: Final = 7
"""Sections up to which every order of them is tried, ..."""
WORK: Final = 100_000
"""... until so many jobs were looked at: a count, not a clock, so that the order is the same everywhere."""


@dataclass(frozen=True, slots=True)
class Demand:
    """Tools that must be mounted together, for the marks named of the bars of ``pattern``."""

    plan: int
    pattern: BarPattern
    tools: frozenset[Tool]
    marks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Stroke:
    """What one hole asks of the line: hits of a tool through steel of a thickness, at a distance across the face."""

    tool: Tool
    face: str
    hits: int
    thickness: float
    across: float


Job = tuple[Demand, ...]
Strokes = Mapping[str, tuple[Stroke, ...]]
"""By mark."""


def running_order(
    plans: Sequence[BarPlan],
    pieces: Mapping[str, Piece],
    punches: int,
    line: LineSettings | None = None,
    off_line: Callable[[Piece, Hole], str | None] = lambda piece, hole: None,
) -> Running:
    """The order for the bars of ``plans``; each head holds ``punches`` tools. ``pieces`` by mark.

    line: what the line takes; None: the defaults. off_line: why the line does not make a hole of a piece; None or
    empty where it does.
    """
    line = line or LineSettings()
    taken = [not limits.section_refused(plan.section, line) for plan in plans]
    marks = {m for plan, runs in zip(plans, taken, strict=True) if runs for p in plan.patterns for m in p.marks()}
    strokes = {mark: _strokes(pieces[mark], line, off_line) for mark in sorted(marks)}
    jobs = [
        [_job(number, pattern, strokes, punches) for pattern in plan.patterns]
        for number, plan in enumerate(plans)
        if taken[number]
    ]
    groups = [group for group in jobs if group]
    by_mark = sorted((job for group in groups for job in group), key=_first_mark)
    tries = [_by_easiest(groups, punches)]
    if len(groups) <= SECTIONS:
        tries.append(_all_orders(groups, punches, tries[0]))
    # The marks' order, with the sections kept together: as good a beginning as any, and now and then the better one.
    firsts = sorted(groups, key=lambda group: min(_first_mark(job) for job in group))
    together = [job for group in firsts for job in sorted(group, key=_first_mark)]
    tries += [together, by_mark]
    ordered = min(
        (order for order in tries if _sections(order) <= len(groups)), key=lambda order: changes(order, punches)
    )
    return Running(
        _set_ups(ordered, plans, strokes, punches),
        changes(ordered, punches),
        _sections(ordered),
        changes(together, punches),
        changes(by_mark, punches),
        _sections(by_mark),
        tuple(p.number for plan, runs in zip(plans, taken, strict=True) if not runs for p in plan.patterns),
        tuple(mark for mark in _marks(ordered) if pieces[mark].off_line),
    )


def _by_easiest(groups: Sequence[Sequence[Job]], punches: int) -> list[Job]:
    """Next the section whose easiest bar needs the fewest new tools; in the order of the plans where alike."""
    ordered: list[Job] = []
    waiting = list(groups)
    mounted: frozenset[Tool] = frozenset()
    while waiting:
        group = min(waiting, key=lambda g: (min(_new(job, mounted) for job in g), g[0][0].plan))
        waiting.remove(group)
        ordered += sequence(group, mounted, punches)
        mounted = _mounted_after(ordered, punches)
    return ordered


def _all_orders(groups: Sequence[Sequence[Job]], punches: int, best: list[Job]) -> list[Job]:
    """Every order of the sections, each section sequenced from what the one before leaves; the best, or ``best``.

    It ends after ``WORK`` or where every tool is mounted but once, which no order betters.
    """
    every = len({tool for group in groups for job in group for tool in _tools(job)})
    cost = changes(best, punches)
    work = 0
    known: dict[tuple[int, frozenset[Tool]], tuple[list[Job], frozenset[Tool]]] = {}
    if sum(_effort(group) for group in groups) > WORK:
        return best
    for turn in permutations(range(len(groups))):
        if cost <= every or work > WORK:
            break
        ordered: list[Job] = []
        mounted: frozenset[Tool] = frozenset()
        for index in turn:
            if (index, mounted) not in known:
                made = sequence(groups[index], mounted, punches)
                known[index, mounted] = made, _mounted_after(made, punches, mounted)
                work += _effort(made)
            made, mounted = known[index, mounted]
            ordered += made
        work += len(ordered)
        trial = changes(ordered, punches)
        if trial < cost:
            best, cost = ordered, trial
    return best


def _effort(group: Sequence[Job]) -> int:
    """How many jobs are looked at, about, to sequence a section."""
    return len(group) ** (3 if len(group) <= MOVES else 2)


def changes(jobs: Sequence[Job], punches: int) -> int:
    """Tools put in, the first ones included, when jobs run in this order."""
    return sum(len(new) for _, _, new in _mountings(jobs, punches))


def sequence(group: Sequence[Job], mounted: frozenset[Tool], punches: int) -> list[Job]:
    """The jobs of one section in an order of few changes, starting with ``mounted``."""
    rest = list(group)
    order: list[Job] = []
    now = mounted
    while rest:
        job = min(rest, key=lambda j: (_new(j, now), -len(_tools(j)), j[0].pattern.number))
        rest.remove(job)
        order.append(job)
        now = _mounted_after(order, punches, mounted)
    best = _cost(order, punches, mounted)
    improved = 2 < len(order) <= MOVES
    while improved:
        improved = False
        for i in range(len(order)):
            for j in range(len(order)):
                trial = order[:i] + order[i + 1 :]
                trial.insert(j, order[i])
                cost = _cost(trial, punches, mounted)
                if cost < best:
                    order, best, improved = trial, cost, True
    return order


def _cost(jobs: Sequence[Job], punches: int, mounted: frozenset[Tool]) -> int:
    return sum(len(new) for _, _, new in _mountings(jobs, punches, mounted))


def _mounted_after(jobs: Sequence[Job], punches: int, mounted: frozenset[Tool] = frozenset()) -> frozenset[Tool]:
    held = mounted
    for _, held, _ in _mountings(jobs, punches, mounted):  # noqa: B007 - the last one is what is wanted
        pass
    return held


def _mountings(
    jobs: Sequence[Job], punches: int, mounted: frozenset[Tool] = frozenset()
) -> list[tuple[Demand, frozenset[Tool], frozenset[Tool]]]:
    """For each demand in turn: what the heads hold while it runs, and which of that is newly put in."""
    demands = [demand for job in jobs for demand in job]
    never = len(demands)
    # next_use[t]: the demands that need a tool, the last one first
    next_use: dict[Tool, list[int]] = defaultdict(list)
    for index in range(never - 1, -1, -1):
        for tool in demands[index].tools:
            next_use[tool].append(index)
    held = mounted
    steps = []
    for demand in demands:
        for tool in demand.tools:
            next_use[tool].pop()
        new = demand.tools - held
        keep = set(held | demand.tools)
        for head in {tool.head for tool in new}:
            there = [tool for tool in keep if tool.head == head]
            spare = [tool for tool in there if tool not in demand.tools]
            spare.sort(key=lambda t: (next_use[t][-1] if next_use[t] else never, t), reverse=True)
            keep -= set(spare[: max(0, len(there) - punches)])
        held = frozenset(keep)
        steps.append((demand, held, frozenset(new)))
    return steps


def _job(plan: int, pattern: BarPattern, strokes: Strokes, punches: int) -> Job:
    """What a bar needs, in as few demands as its pieces in cutting order allow."""
    demands: list[Demand] = []
    tools: frozenset[Tool] = frozenset()
    marks: list[str] = []

    def close() -> None:
        if marks:
            demands.append(Demand(plan, pattern, tools, tuple(marks)))

    for mark in pattern.marks():
        needed = frozenset(stroke.tool for stroke in strokes[mark])
        if _fits(tools | needed, punches):
            tools |= needed
            marks.append(mark)
            continue
        close()
        if _fits(needed, punches):
            tools, marks = needed, [mark]
            continue
        # One piece with more sizes than its heads hold: changed in the middle of the piece. No other mark joins
        # the last of its turns, or a tool that it had before would be counted again.
        demands += [Demand(plan, pattern, part, (mark,)) for part in _parts(needed, punches)]
        tools, marks = frozenset(), []
    close()
    return tuple(demands)


def _parts(tools: frozenset[Tool], punches: int) -> list[frozenset[Tool]]:
    heads: dict[str, list[Tool]] = defaultdict(list)
    for tool in sorted(tools):
        heads[tool.head].append(tool)
    most = max((len(of_head) for of_head in heads.values()), default=0)
    parts = [
        frozenset(tool for of_head in heads.values() for tool in of_head[at : at + punches])
        for at in range(0, most, punches)
    ]
    return parts or [frozenset()]


def _fits(tools: frozenset[Tool], punches: int) -> bool:
    return max(Counter(tool.head for tool in tools).values(), default=0) <= punches


def _strokes(piece: Piece, line: LineSettings, off_line: Callable[[Piece, Hole], str | None]) -> tuple[Stroke, ...]:
    """What the line punches of a piece."""
    if limits.length_refused(piece.length, line):
        return ()
    thickness = {face.name: face.thickness for face in piece.faces}
    found = []
    for hole in piece.holes:
        head = _head(piece.section, hole.face, line)
        slot = hole.slot_length > hole.diameter
        hits = limits.slot_hits(hole.diameter, hole.slot_length, line) if slot else 1
        # Where nothing was said about how a hole is made, it is punched.
        if not head or not hits or hole.make in (DRILL, CUT) or off_line(piece, hole):
            continue
        size = round(hole.punch_mm or hole.diameter, 1)
        kind = NEAR_HEEL if _special(piece.section, hole, line) else "round" if slot else hole.kind
        tool = Tool(head, size, 0.0, round(hole.width, 1) if hole.kind == "rectangle" else 0.0, kind)
        found.append(Stroke(tool, hole.face, hits, round(thickness.get(hole.face, 0.0), 1), round(hole.across, 2)))
    return tuple(found)


def _head(section: Section, face: str, line: LineSettings) -> str:
    """The head before which a face comes; empty where none reaches it: the flanges of a channel."""
    if section.shape == CHANNEL and face != "web":
        return ""
    return SECOND if section.shape == ANGLE and face == "B" and line.heads > 1 else FIRST


def _special(section: Section, hole: Hole, line: LineSettings) -> bool:
    """Whether the hole needs the punch that reaches nearer to the heel, or to a flange: another tool."""
    if section.shape == ANGLE:
        return limits.heel_punch(hole.across, section.tw, line) == "special"
    if section.shape == CHANNEL:
        return limits.heel_punch(min(hole.across, section.h - hole.across), section.tf, line) == "special"
    return False


def _tools(job: Job) -> frozenset[Tool]:
    return frozenset(tool for demand in job for tool in demand.tools)


def _new(job: Job, mounted: frozenset[Tool]) -> int:
    return len(_tools(job) - mounted)


def _first_mark(job: Job) -> tuple[object, ...]:
    marks = [natural(mark) for mark in job[0].pattern.marks()]
    return (min(marks), job[0].pattern.number)


def _marks(jobs: Sequence[Job]) -> list[str]:
    return sorted({mark for job in jobs for demand in job for mark in demand.marks}, key=natural)


def _sections(jobs: Sequence[Job]) -> int:
    """How often another section, or another batch of it, is set up."""
    batches = [job[0].plan for job in jobs]
    return sum(1 for i, plan in enumerate(batches) if i == 0 or plan != batches[i - 1])


def _set_ups(ordered: Sequence[Job], plans: Sequence[BarPlan], strokes: Strokes, punches: int) -> tuple[SetUp, ...]:
    """Demands one after the other that need no change, gathered."""
    groups: list[tuple[frozenset[Tool], frozenset[Tool], list[Demand]]] = []
    for demand, held, new in _mountings(ordered, punches):
        if groups and not new and groups[-1][2][-1].plan == demand.plan:
            groups[-1][2].append(demand)
        else:
            groups.append((held, new, [demand]))
    set_ups = []
    before = -1
    for held, new, demands in groups:
        plan = plans[demands[0].plan]
        patterns = {demand.pattern.number: demand.pattern for demand in demands}
        set_ups.append(
            SetUp(
                plan.section.designation,
                plan.grade,
                plan.finish,
                tuple(sorted(held)),
                tuple(sorted(new)),
                tuple(patterns),
                sum(pattern.times for pattern in patterns.values()),
                tuple(_marks([tuple(demands)])),
                _hits(demands, strokes),
                demands[0].plan != before,
            )
        )
        before = demands[0].plan
    return tuple(set_ups)


def _hits(demands: Sequence[Demand], strokes: Strokes) -> tuple[Hits, ...]:
    counts: Counter[tuple[Tool, str, float]] = Counter()
    across: dict[tuple[Tool, str, float], set[float]] = defaultdict(set)
    for demand in demands:
        many = demand.pattern.marks()
        for mark in demand.marks:
            for stroke in strokes[mark]:
                if stroke.tool in demand.tools:
                    key = (stroke.tool, stroke.face, stroke.thickness)
                    counts[key] += many[mark] * demand.pattern.times * stroke.hits
                    across[key].add(stroke.across)
    return tuple(
        Hits(tool, thickness, counts[tool, face, thickness], tuple(gauge_lines(across[tool, face, thickness])), face)
        for tool, face, thickness in sorted(counts)
    )
