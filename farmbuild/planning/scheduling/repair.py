"""A schedule that people follow already, put right after a change with as little moved as can be.

What is weighed: late jobs first; then the share of tasks that move together with how much later than it must the
schedule ends, as a share of its length: ending a hundredth later is as bad as moving four hundredths of the tasks. The
end that it must have is the published one, or the longest chain of tasks now where that ends later: an earlier end
than that is worth no moves.
"""

from __future__ import annotations

import heapq
import random
from dataclasses import dataclass

from farmbuild.planning.scheduling.budget import Budget
from farmbuild.planning.scheduling.calendar import FOREVER
from farmbuild.planning.scheduling.draft import Draft, Place, fixed_places
from farmbuild.planning.scheduling.greedy import earliest_place
from farmbuild.planning.scheduling.model import Goal, Model
from farmbuild.planning.scheduling.problem import Node, Problem
from farmbuild.planning.scheduling.room import room
from farmbuild.planning.scheduling.timeline import Timeline

PART = 0.15
#: How many tasks' moves, as a share of all, ending later by the same share of the schedule is as bad as.
LATER = 4
#: Parts tried in a row without any good before the repair is taken as it is.
PATIENCE = 12
#: What ends too late is asked to end within so much of the excess now, and the effort of trying that.
SOONER = 0.1
END = 0.8
#: Tasks freed round about where a late job might go.
WINDOW = 36
#: Jobs at work around then of which some make room for a late one.
MAKERS = 12
#: Shares of the schedule after the first move in which tasks do not hold on to their places, tried one by one.
LOOSE = (0.01, 0.03, 0.06, 0.1, 0.2, 0.4, 1.0)
#: Shares of the schedule by which those that have to move take their turns early.
AHEAD = (0.0, 0.03)


@dataclass(frozen=True)
class Aim:
    ends: int
    tasks: int
    span: int

    def cost(self, draft: Draft) -> tuple[int, ...]:
        after = max(0, draft.makespan - self.ends)
        weighed = draft.moved() * self.span + LATER * after * self.tasks
        return len(draft.failed), len(draft.missed), len(draft.late()), weighed

    @property
    def goal(self) -> Goal:
        later = LATER * self.tasks
        late = 2 * self.tasks * self.span + later * self.ends
        return Goal(late=max(1, late), after=later, ends=self.ends, moved=self.span)


def aim_of(problem: Problem, bound: int) -> Aim:
    published = [node.task.published for node in problem.nodes if node.task.published is not None]
    ends = max([bound, *(place.end for place in published)])
    span = ends - min((place.start for place in published), default=0)
    return Aim(ends, max(1, len(problem.nodes)), max(1, span))


def repaired(problem: Problem, aim: Aim) -> list[Draft]:
    """A repair that moves only what has to, and the best of those that hold on to fewer of the tasks after that."""
    best = least = _repaired(problem, set(), 0)
    moved = [k for k in best.places if best.is_moved(k)]
    if not moved:
        return [best]
    first = min(min(_published_start(problem.nodes[k]), best.places[k][1]) for k in moved)
    for share in LOOSE:
        until = first + share * aim.span
        loose = {node.index for node in problem.free if first <= _published_start(node) <= until}
        for ahead in AHEAD:
            best = min(best, _repaired(problem, loose, int(ahead * aim.span)), key=aim.cost)
    return [best] if best is least else [least, best]


def _repaired(problem: Problem, loose: set[int], ahead: int) -> Draft:
    """Every task that can stay does; the others go into the first gap that has room for them.

    ``loose`` tasks do not keep their places for themselves: they stay when the place is free when their turn comes.
    Turns come by time; those that have to move take theirs ``ahead`` slots early.
    """
    timeline = Timeline(problem)
    draft = Draft(problem, fixed_places(problem))
    stays: dict[int, Place] = {}
    for node in sorted(problem.free, key=_published_start):
        place = _published_place(problem, node)
        if place is not None and node.index not in loose and _fits(timeline, node, place):
            timeline.take(node, node.options[place[0]], place[1], place[2])
            stays[node.index] = place
    waits = {node.index: sum(problem.nodes[j].fixed is None for j, _ in node.before) for node in problem.free}

    def turn(k: int) -> int:
        published = problem.nodes[k].task.published
        from_ = _start_from(draft, k)
        return published.start if published is not None and published.start >= from_ else max(0, from_ - ahead)

    heap = [(turn(k), k) for k, count in waits.items() if count == 0]
    heapq.heapify(heap)
    failed: set[int] = set()
    while heap:
        _, k = heapq.heappop(heap)
        node = problem.nodes[k]
        place = None
        if not any(j in failed for j, _ in node.before):
            start_from = _start_from(draft, k)
            place = _place(timeline, node, start_from, stays.get(k))
        if place is None:
            failed.add(k)
            draft.failed.append(k)
            if k in stays:
                timeline.give_back(node, node.options[stays[k][0]], stays[k][1], stays[k][2])
        else:
            draft.places[k] = place
            if place[2] > node.latest:
                draft.missed.append(k)
        for j, _ in node.following:
            if j in waits:
                waits[j] -= 1
                if waits[j] == 0:
                    heapq.heappush(heap, (turn(j), j))
    return draft


def _start_from(draft: Draft, k: int) -> int:
    node = draft.problem.nodes[k]
    return max([node.head, *(draft.places[j][2] + lag for j, lag in node.before if j in draft.places)])


def _place(timeline: Timeline, node: Node, start_from: int, kept: Place | None) -> Place | None:
    if kept is not None:
        if kept[1] >= start_from:
            return kept
        timeline.give_back(node, node.options[kept[0]], kept[1], kept[2])
    place = _published_place(timeline.problem, node)
    if place is None or place[1] < start_from or not _fits(timeline, node, place):
        place = earliest_place(timeline, node, start_from)
    if place is not None:
        timeline.take(node, node.options[place[0]], place[1], place[2])
    return place


def improve_repaired(draft: Draft, aim: Aim, late_bound: int, budget: Budget, share: float) -> None:
    """Free the tasks around each one that moved, is late or ends too late, and place them anew."""
    chance = random.Random(1)
    idle = 0
    size = 24
    while idle < PATIENCE and not budget.over(share):
        causes = _causes(draft, aim, late_bound)
        if not causes:
            return
        free = _around(draft, chance.choice(causes), size, chance)
        horizon = draft.makespan
        in_time: set[int] = set()
        late = sorted(draft.late()) if len(draft.late()) > late_bound else []
        if late and idle % 3 != 2:
            job = chance.choice(late)
            free = (_making_room if idle % 3 else _in_time)(draft, job, chance)
            in_time = set(range(len(draft.problem.jobs))) - set(late) | {job}
        elif horizon > aim.ends and idle % 3 == 0:
            # All that ends too late, asked to end much sooner: settled faster, since fewer places are left.
            beyond = [node.index for node in draft.problem.free if draft.places[node.index][2] > aim.ends]
            free = list(dict.fromkeys([*beyond, *free]))
            horizon = aim.ends + int(SOONER * (horizon - aim.ends))
        before = aim.cost(draft)
        chosen = set(free)
        staying = {k: place for k, place in draft.places.items() if k not in chosen}
        spare = room(draft.problem, free, staying, horizon, in_time=in_time)
        if spare.empty:
            idle += 1
            budget.spend(0.01)
            continue
        model = Model(draft.problem, spare, staying, horizon, aim.goal)
        tight = bool(in_time) or horizon < draft.makespan
        if not tight:
            model.hint(draft.places)
        work = END if tight else PART
        solved = model.solve(min(work, max(budget.left, 0.01)), max(0.1, budget.seconds_left))
        budget.spend(solved.work + 0.01)
        if solved.places is not None:
            kept = draft.places
            draft.places = {**staying, **solved.places}
            if aim.cost(draft) > before:
                draft.places = kept
        better = aim.cost(draft) < before
        idle = 0 if better else idle + 1
        size = min(60, size + 4) if solved.proven and not better else size
        budget.tell(draft)


def _causes(draft: Draft, aim: Aim, late_bound: int) -> list[int]:
    nodes = draft.problem.nodes
    late = draft.late() if len(draft.late()) > late_bound else set()
    return [
        node.index
        for node in draft.problem.free
        if draft.is_moved(node.index)
        or draft.places[node.index][2] > aim.ends
        or (node.job in late and draft.places[node.index][2] > (nodes[node.index].task.due or FOREVER))
    ]


def _in_time(draft: Draft, job: int, chance: random.Random) -> list[int]:
    """What of a late job has moved, and tasks around some time at which it would not be late."""
    own = [node for node in draft.problem.free if node.job == job]
    moved = [node.index for node in own if draft.is_moved(node.index)] or [node.index for node in own]
    first = min(_start_from(draft, k) for k in moved)
    due = max((due for node in own if (due := node.task.due) is not None), default=first)
    spot = chance.uniform(first, max(first, due))
    spot = first + (spot - first) * chance.random()

    def far(k: int) -> tuple[float, int]:
        _, start, end = draft.places[k]
        return max(start - spot, spot - end, 0.0), k

    others = sorted((node.index for node in draft.problem.free if node.index not in moved), key=far)
    return moved + others[:WINDOW]


def _making_room(draft: Draft, job: int, chance: random.Random) -> list[int]:
    """What of a late job has moved, and all that is still to do, from some time on, for a few jobs with time to spare.

    Where every hour is taken, only jobs that may end later can make room, and then the rest of them moves along.
    """
    problem = draft.problem
    own = [node for node in problem.free if node.job == job]
    moved = [node.index for node in own if draft.is_moved(node.index)] or [node.index for node in own]
    first = min(_start_from(draft, k) for k in moved)
    due = max((due for node in own if (due := node.task.due) is not None), default=first)
    spot = first + int((max(due, first) - first) * chance.random() ** 2)
    behind: dict[str, list[int]] = {}
    spare: dict[str, int] = {}
    for node in problem.free:
        if node.job != job and draft.places[node.index][2] > spot:
            name = node.task.job or node.task.ref
            behind.setdefault(name, []).append(node.index)
            own_due = FOREVER if node.task.due is None else node.task.due
            spare[name] = min(spare.get(name, FOREVER), own_due - draft.places[node.index][2])
    # Of the jobs at work around then, those with the most time to spare, more often than others.
    near = sorted(behind, key=lambda name: (min(draft.places[k][1] for k in behind[name]), name))[:MAKERS]
    near.sort(key=lambda name: (-spare[name], name))
    free = list(moved)
    while near and len(free) < WINDOW:
        free.extend(behind[near.pop(min(len(near) - 1, int(chance.expovariate(4 / len(near)))))])
    return free


def _around(draft: Draft, cause: int, size: int, chance: random.Random) -> list[int]:
    """The cause, what waits for it, and tasks near where it is, was published or could start."""
    problem = draft.problem
    node = problem.nodes[cause]
    spots = [draft.places[cause][1], _start_from(draft, cause)]
    if node.task.published is not None:
        spots.append(node.task.published.start)
    spot = chance.choice(spots)
    behind = {cause}
    for k in problem.order:
        if any(j in behind for j, _ in problem.nodes[k].before):
            behind.add(k)

    def far(other: Node) -> tuple[int, int, int]:
        _, start, end = draft.places[other.index]
        gap = max(start - spot, spot - end, 0)
        return other.index not in behind, gap, other.index

    nodes = sorted(problem.free, key=far)
    own = [other.index for other in nodes if other.index in behind][: size // 2]
    return own + [other.index for other in nodes if other.index not in behind][: size - len(own)]


def _published_start(node: Node) -> int:
    # A task that is new goes after those that stay, as soon as what it waits for is there.
    return FOREVER if node.task.published is None else node.task.published.start


def _published_place(problem: Problem, node: Node) -> Place | None:
    published = node.task.published
    if published is None or published.start < node.head or published.end > node.latest:
        return None
    for number, option in enumerate(node.options):
        if option.way == published.way:
            if option.calendar.end(published.start, option.duration, node.task.pauses) != published.end:
                return None
            return number, published.start, published.end
    return None


def _fits(timeline: Timeline, node: Node, place: Place) -> bool:
    found = timeline.earliest(node, node.options[place[0]], place[1])
    return found is not None and found[0] == place[1]
