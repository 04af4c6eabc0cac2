"""What is taken so far, while a schedule is put together task by task."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from itertools import pairwise

from farmbuild.planning.scheduling.problem import Node, Option, Problem


class Profile:
    """How much of a lane is taken, as a step function from slot 0 on."""

    def __init__(self, taken: tuple[tuple[int, int], ...], amount: int, most: int) -> None:
        self.most = most
        self.times = [0]
        self.used = [0]
        for start, end in taken:
            self.add(start, end, amount)

    def add(self, start: int, end: int, amount: int) -> None:
        first = self._cut(start)
        last = self._cut(end)
        for k in range(first, last):
            self.used[k] += amount

    def _cut(self, slot: int) -> int:
        k = bisect_left(self.times, slot)
        if k == len(self.times) or self.times[k] != slot:
            self.times.insert(k, slot)
            self.used.insert(k, self.used[k - 1])
        return k

    def clash(self, start: int, end: int, amount: int) -> int | None:
        """Where the last step from ``start`` to ``end`` that leaves no ``amount`` ends; None when all do."""
        room = self.most - amount
        first = bisect_right(self.times, start) - 1
        last = bisect_left(self.times, end)
        for k in range(last - 1, first - 1, -1):
            if self.used[k] > room:
                return self.times[k + 1]
        return None

    def full(self, start: int, end: int, amount: int) -> list[tuple[int, int]]:
        """The steps between ``start`` and ``end`` that leave no ``amount``."""
        room = self.most - amount
        first = bisect_right(self.times, start) - 1
        last = bisect_left(self.times, end)
        return [(self.times[k], self.times[k + 1]) for k in range(first, last) if self.used[k] > room]

    def steps(self, start: int, end: int) -> list[tuple[int, int, int]]:
        """From, to and amount of what is taken between ``start`` and ``end``; no more than there is."""
        first = bisect_right(self.times, start) - 1
        last = bisect_left(self.times, end)
        return [
            (self.times[k], self.times[k + 1], min(self.used[k], self.most))
            for k in range(first, last)
            if self.used[k] > 0
        ]


class Timeline:
    """Crews' days and lanes' profiles. Fixed tasks are in it from the start."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.travel = problem.travel
        self.longest = max((max(row) for row in problem.travel), default=0)
        #: For each crew: starts, ends and places of its tasks, by start.
        self.crews: list[list[tuple[int, int, int]]] = [[] for _ in problem.crews]
        self.lanes = [Profile(lane.taken, lane.most - lane.capacity, lane.most) for lane in problem.lanes]
        #: Whether tasks of one crew overlap, which only fixed ones do: an early one may then reach far.
        self.overlap = False
        for node in problem.nodes:
            if node.fixed is not None:
                self.take(node, node.options[node.fixed.way], node.fixed.start, node.fixed.end)
        for days in self.crews:
            self.overlap |= any(one[1] > other[0] for one, other in pairwise(days))

    def take(self, node: Node, option: Option, start: int, end: int) -> None:
        if start == end:
            return
        for crew in option.crews:
            days = self.crews[crew]
            days.insert(bisect_left(days, (start, end, node.place)), (start, end, node.place))
        for lane, amount in option.lanes:
            self.lanes[lane].add(start, end, amount)

    def give_back(self, node: Node, option: Option, start: int, end: int) -> None:
        if start == end:
            return
        for crew in option.crews:
            self.crews[crew].remove((start, end, node.place))
        for lane, amount in option.lanes:
            self.lanes[lane].add(start, end, -amount)

    def earliest(self, node: Node, option: Option, slot: int) -> tuple[int, int] | None:
        """The first start not before ``slot`` with all that the option needs free, and its end."""
        calendar, duration, pauses = option.calendar, option.duration, node.task.pauses
        while True:
            found = calendar.earliest(slot, duration, pauses)
            if found is None or found[0] == found[1]:
                return found
            start, end = found
            slot = start
            for lane, amount in option.lanes:
                free_from = self.lanes[lane].clash(start, end, amount)
                if free_from is not None and free_from > slot:
                    slot = free_from
            for crew in option.crews:
                free_from = self._crew_clash(crew, node.place, start, end)
                if free_from > slot:
                    slot = free_from
            if slot == start:
                return found

    def _crew_clash(self, crew: int, place: int, start: int, end: int) -> int:
        """The earliest start that gets the crew clear of the tasks in its way now."""
        days = self.crews[crew]
        travel = self.travel
        free_from = start
        # Tasks that start when this one has ended, with the journey, are no hindrance.
        k = bisect_left(days, (end + self.longest, 0, 0)) - 1
        while k >= 0:
            other_start, other_end, other_place = days[k]
            clear = other_end + travel[other_place][place]
            if clear > start and end + travel[place][other_place] > other_start:
                free_from = max(free_from, clear)
            elif clear <= start and other_end + self.longest <= start and not self.overlap:
                break
            k -= 1
        return free_from
