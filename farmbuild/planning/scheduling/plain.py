"""Projects in which nothing but waits and shared resources counts, in numbers that are quick to go through."""

from __future__ import annotations

import math
from dataclasses import dataclass

from farmbuild.planning.scheduling.calendar import FOREVER
from farmbuild.planning.scheduling.problem import Node, Problem

#: Most steps of time, which is gone through step by step.
MAX_STEPS = 5_000

#: Tasks in the order in which they are placed; each comes after all that it waits for.
Order = list[int]


@dataclass
class Plain:
    """Tasks by number, times in steps of ``step`` slots each.

    ``need`` holds what a task takes of each resource side by side in one number, and ``nothing`` what a step holds
    when nothing is taken: so much that a bit of ``full`` is set as soon as a resource is asked for more than there is.
    ``ahead`` are ``(task, lag)`` that a task waits for when time runs forwards, ``behind`` when it runs backwards.
    """

    step: int
    duration: list[int]
    need: list[int]
    nothing: int
    full: int
    head: list[int]
    ahead: list[list[tuple[int, int]]]
    behind: list[list[tuple[int, int]]]
    #: From the first task to the last.
    order: Order
    steps: int

    def forwards(self, order: Order) -> tuple[list[int], int]:
        """The end of each task when each goes where it can first, and how many steps were passed on the way."""
        return self._serial(order, self.ahead, self.head)

    def backwards(self, order: Order) -> tuple[list[int], int]:
        """The same with time running backwards: ``order`` begins with the last, and the ends count from behind."""
        return self._serial(order, self.behind, [0] * len(order))

    def _serial(self, order: Order, waits: list[list[tuple[int, int]]], head: list[int]) -> tuple[list[int], int]:
        load = [self.nothing] * self.steps
        full = self.full
        end = [0] * len(order)
        passed = 0
        for k in order:
            start = head[k]
            for j, lag in waits[k]:
                if end[j] + lag > start:
                    start = end[j] + lag
            duration = self.duration[k]
            if duration:
                need = self.need[k]
                first = unknown = start
                stop = start + duration
                while True:
                    # From the last step back: where there is no room, all before it is passed over unseen.
                    step = stop - 1
                    while step >= unknown and not load[step] + need & full:
                        step -= 1
                    if step < unknown:
                        break
                    unknown = stop
                    start = step + 1
                    stop = start + duration
                for step in range(start, stop):
                    load[step] += need
                passed += stop - first
                end[k] = stop
            else:
                end[k] = start
        return end, passed


def plain(problem: Problem) -> Plain | None:
    """``problem`` in numbers; None where there is more to it: ways to choose from, journeys, hours, days to keep."""
    nodes = problem.nodes
    if not nodes or not all(_is_plain(node) for node in nodes) or any(lane.taken for lane in problem.lanes):
        return None
    lengths = [node.options[0].duration for node in nodes]
    lags = [lag for node in nodes for _, lag in node.before]
    heads = [node.task.release for node in nodes]
    step = math.gcd(*lengths, *lags, *heads) or 1
    steps = (sum(lengths) + sum(lags) + max(heads)) // step + 1
    if steps > MAX_STEPS:
        return None
    shift, nothing, full, at = 0, 0, 0, []
    for lane in problem.lanes:
        width = lane.most.bit_length()
        at.append(shift)
        nothing += ((1 << width) - 1 - lane.most) << shift
        full += 1 << (shift + width)
        shift += width + 1
    return Plain(
        step,
        [length // step for length in lengths],
        [sum(amount << at[lane] for lane, amount in node.options[0].lanes) for node in nodes],
        nothing,
        full,
        [head // step for head in heads],
        [[(j, lag // step) for j, lag in node.before] for node in nodes],
        [[(j, lag // step) for j, lag in node.following] for node in nodes],
        list(problem.order),
        steps,
    )


def _is_plain(node: Node) -> bool:
    task = node.task
    if task.fixed is not None or task.published is not None or task.due is not None or len(node.options) != 1:
        return False
    (option,) = node.options
    return not option.crews and option.calendar.between(0, FOREVER) == FOREVER
