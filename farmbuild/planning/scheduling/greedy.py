"""Schedules put together task by task, by rules of thumb.

Serial and parallel schedule generation (Kolisch, European Journal of Operational Research 90, 1996), here with
calendars, ways and journeys: each task goes to the way and start that end it first.
"""

from __future__ import annotations

import heapq
import random
from collections.abc import Callable, Sequence

from farmbuild.planning.scheduling.calendar import FOREVER
from farmbuild.planning.scheduling.draft import Draft, Place, fixed_places
from farmbuild.planning.scheduling.problem import Node, Problem, latest_start
from farmbuild.planning.scheduling.timeline import Timeline

Rank = Sequence[float]
#: By node and option.
Prices = Sequence[Sequence[float]]
#: Given the draft after each task that is placed.
Tell = Callable[[Draft], None]


def serial(problem: Problem, rank: Rank, price: Prices | None = None, tell: Tell | None = None) -> Draft:
    """Of the tasks whose predecessors are placed, the one of least ``rank`` goes next."""
    builder = _Builder(problem, price, tell)
    heap = [(rank[k], k) for k in builder.ready()]
    heapq.heapify(heap)
    while heap:
        _, k = heapq.heappop(heap)
        place = builder.best(k)
        for j in builder.put(k, place):
            heapq.heappush(heap, (rank[j], j))
    return builder.draft


def parallel(problem: Problem, rank: Rank, price: Prices | None = None, tell: Tell | None = None) -> Draft:
    """Of the tasks that could start first, the one of least ``rank`` goes next."""
    builder = _Builder(problem, price, tell)
    heap = [(builder.start_from(k), rank[k], k) for k in builder.ready()]
    heapq.heapify(heap)
    while heap:
        start, _, k = heapq.heappop(heap)
        place = builder.best(k)
        if place is not None and place[1] > start:
            # The start only grows as more is placed, so whatever still comes first with its true start is first.
            heapq.heappush(heap, (place[1], rank[k], k))
            continue
        for j in builder.put(k, place):
            heapq.heappush(heap, (builder.start_from(j), rank[j], j))
    return builder.draft


class _Builder:
    def __init__(self, problem: Problem, price: Prices | None, tell: Tell | None) -> None:
        self.problem = problem
        self.price = price
        self.tell = tell
        self.timeline = Timeline(problem)
        self.draft = Draft(problem, fixed_places(problem))
        self.waits = [
            sum(problem.nodes[j].fixed is None for j, _ in node.before) if node.fixed is None else -1
            for node in problem.nodes
        ]
        self._failed: set[int] = set()
        #: By node, the first start of each option when it was last asked for. What is taken only grows.
        self._since: list[list[int]] = [[0] * len(node.options) for node in problem.nodes]

    def ready(self) -> list[int]:
        return [k for k, count in enumerate(self.waits) if count == 0]

    def start_from(self, k: int) -> int:
        node = self.problem.nodes[k]
        places = self.draft.places
        return max([node.head, *(places[j][2] + lag for j, lag in node.before if j in places)])

    def best(self, k: int) -> Place | None:
        """The way and start that end the task first; among them the later start, which leaves the more room."""
        node = self.problem.nodes[k]
        if any(j in self._failed for j, _ in node.before):
            return None
        price = self.price[k] if self.price else None
        return earliest_place(self.timeline, node, self.start_from(k), price, self._since[k])

    def put(self, k: int, place: Place | None) -> list[int]:
        """Take the place, and tell which tasks can be placed now."""
        node = self.problem.nodes[k]
        if place is None:
            self._failed.add(k)
            self.draft.failed.append(k)
        else:
            option, start, end = place
            self.timeline.take(node, node.options[option], start, end)
            self.draft.places[k] = place
            if end > node.latest:
                self.draft.missed.append(k)
            if self.tell:
                self.tell(self.draft)
        freed = []
        for j, _ in node.following:
            self.waits[j] -= 1
            if self.waits[j] == 0:
                freed.append(j)
        return freed


def earliest_place(
    timeline: Timeline,
    node: Node,
    start_from: int,
    price: Sequence[float] | None = None,
    since: list[int] | None = None,
) -> Place | None:
    """``price`` of each option: how many slots later another may end and still be taken instead.

    ``since``: starts of each option before which there is no room; brought up to date.
    """
    found: Place | None = None
    key: tuple[float, int] | None = None
    for k, option in enumerate(node.options):
        place = timeline.earliest(node, option, max(start_from, since[k]) if since else start_from)
        if since is not None:
            since[k] = place[0] if place is not None else FOREVER
        if place is None:
            continue
        own = (place[1] + price[k] if price else place[1], -place[0])
        if key is None or own < key:
            key = own
            found = (k, place[0], place[1])
    return found


def prices(problem: Problem, factor: float) -> Prices:
    """What each way takes of the crews' people beyond the thriftiest way, times ``factor``: spares large crews."""
    sizes = [crew.capacity for crew in problem.crews]
    usual = sum(sizes) / max(1, len(sizes)) or 1.0
    found = []
    for node in problem.nodes:
        taken = [option.duration * sum(sizes[crew] for crew in option.crews) / usual for option in node.options]
        found.append([factor * (amount - min(taken)) for amount in taken])
    return found


def ranks(problem: Problem) -> list[list[float]]:
    """Rules of thumb that decide who goes first."""
    nodes = problem.nodes
    horizon = max((node.head for node in nodes), default=0) + sum(node.length() for node in nodes)
    horizon = 2 * horizon + max((node.task.due or 0 for node in nodes), default=0)
    by_end = _latest_ends(problem, horizon, due=False)
    by_due = _latest_ends(problem, horizon, due=True)
    job_due: dict[str, float] = {}
    job_head: dict[str, int] = {}
    for node in nodes:
        name = node.task.job
        job_due[name] = min(job_due.get(name, FOREVER), node.task.due if node.task.due is not None else FOREVER)
        job_head[name] = min(job_head.get(name, FOREVER), node.head)
    jobs = {name: k for k, name in enumerate(sorted(job_due, key=lambda name: (job_due[name], job_head[name], name)))}
    behind = _work_behind(problem)
    scale = float(horizon + 1)
    found = [
        [d + e / scale for d, e in zip(by_due, by_end, strict=True)],
        [float(e) for e in by_end],
        [jobs[node.task.job] + by_end[node.index] / scale for node in nodes],
        [-float(b) for b in behind],
        [d - node.length() for d, node in zip(by_due, nodes, strict=True)],
        [float(node.head) for node in nodes],
    ]
    return list({tuple(rank): rank for rank in found}.values())


def shaken(rank: Rank, by: float, chance: random.Random) -> list[float]:
    return [value + chance.uniform(-by, by) for value in rank]


def _latest_ends(problem: Problem, horizon: int, *, due: bool) -> list[float]:
    """The end of each task beyond which something behind it comes too late."""
    ends = [float(horizon)] * len(problem.nodes)
    for k in reversed(problem.order):
        node = problem.nodes[k]
        end = min(horizon, node.latest)
        if due and node.task.due is not None:
            end = min(end, node.task.due)
        for j, lag in node.following:
            after = problem.nodes[j]
            if after.fixed is not None:
                end = min(end, after.fixed.start - lag)
                continue
            start = latest_start(after, int(ends[j])) if ends[j] >= 0 else -1
            # Before the first window, count on as if work could go on there.
            end = min(end, int((start if start >= 0 else ends[j] - after.length()) - lag))
        ends[k] = float(end)
    return ends


def _work_behind(problem: Problem) -> list[int]:
    behind = [0] * len(problem.nodes)
    for k in reversed(problem.order):
        node = problem.nodes[k]
        behind[k] = node.length() + max((behind[j] + lag for j, lag in node.following), default=0)
    return behind
