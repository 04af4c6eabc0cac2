"""A schedule with time run backwards."""

from __future__ import annotations

from dataclasses import replace

from farmbuild.planning.scheduling.calendar import Calendar
from farmbuild.planning.scheduling.draft import Place
from farmbuild.planning.scheduling.problem import Node, Option, Problem


def mirrored(problem: Problem, end: int) -> Problem:
    """The problem in which slot ``end - t`` stands for slot ``t``, with nothing fixed.

    What is before slot 0 or after ``end`` is gone. A task may not start before its mirrored due date, and is due when
    it could first be started.
    """
    calendars: dict[int, Calendar] = {}

    def turned_option(option: Option) -> Option:
        key = id(option.calendar)
        if key not in calendars:
            calendars[key] = _turned(option.calendar, end)
        return replace(option, calendar=calendars[key])

    nodes = [
        Node(
            node.index,
            replace(node.task, due=end - node.head),
            [turned_option(option) for option in node.options],
            node.job,
            node.place,
            node.following,
            node.before,
            max(0, end - node.latest, end - node.task.due if node.task.due is not None else 0),
        )
        for node in problem.nodes
    ]
    lanes = [
        replace(lane, taken=tuple((end - min(b, end), end - a) for a, b in reversed(lane.taken) if a < end))
        for lane in problem.lanes
    ]
    travel = [list(row) for row in zip(*problem.travel, strict=True)]
    return replace(problem, nodes=nodes, order=problem.order[::-1], lanes=lanes, travel=travel)


def turned(places: dict[int, Place], end: int) -> dict[int, Place]:
    return {k: (option, end - stop, end - start) for k, (option, start, stop) in places.items()}


def _turned(calendar: Calendar, end: int) -> Calendar:
    pairs = zip(reversed(calendar.starts), reversed(calendar.ends), strict=True)
    return Calendar([(end - min(b, end), end - a) for a, b in pairs if a < end])
