"""Where tasks can go while others stay where they are."""

from __future__ import annotations

from collections.abc import Container, Iterable
from dataclasses import dataclass

from farmbuild.planning.scheduling.calendar import FOREVER, Piece
from farmbuild.planning.scheduling.draft import Place
from farmbuild.planning.scheduling.problem import Node, Problem, earliest_end, latest_start
from farmbuild.planning.scheduling.timeline import Timeline


@dataclass
class Room:
    """For each free node its first start, last end and, by option, the starts that clash with nothing that stays."""

    first: dict[int, int]
    last: dict[int, int]
    pieces: dict[int, list[list[Piece]]]
    timeline: Timeline

    @property
    def empty(self) -> bool:
        return any(not any(options) for options in self.pieces.values())


def room(
    problem: Problem, free: Iterable[int], staying: dict[int, Place], horizon: int, *, in_time: Container[int] = ()
) -> Room:
    """``staying`` are the places of all other nodes; every free node ends by ``horizon``, those of jobs
    ``in_time`` when they are due."""
    chosen = set(free)
    timeline = Timeline(problem)
    for k, (option, start, end) in staying.items():
        node = problem.nodes[k]
        if k not in chosen and node.fixed is None:
            timeline.take(node, node.options[option], start, end)
    first: dict[int, int] = {}
    last: dict[int, int] = {}
    for k in problem.order:
        if k in chosen:
            node = problem.nodes[k]
            first[k] = node.head
            for j, lag in node.before:
                end = earliest_end(problem.nodes[j], first[j]) if j in chosen else staying[j][2]
                first[k] = min(FOREVER, max(first[k], end + lag))
    for k in reversed(problem.order):
        if k in chosen:
            node = problem.nodes[k]
            last[k] = min(horizon, node.latest)
            if node.task.due is not None and node.job in in_time:
                last[k] = min(last[k], node.task.due)
            for j, lag in node.following:
                start = latest_start(problem.nodes[j], last[j]) if j in chosen else staying[j][1]
                last[k] = min(last[k], start - lag)
    pieces = {
        k: [
            _starts(timeline, problem.nodes[k], option, first[k], last[k])
            for option in range(len(problem.nodes[k].options))
        ]
        for k in first
    }
    return Room(first, last, pieces, timeline)


def _starts(timeline: Timeline, node: Node, number: int, first: int, last: int) -> list[Piece]:
    option = node.options[number]
    if last < first:
        return []
    found = []
    for piece in option.calendar.pieces(first, last - option.duration, option.duration, node.task.pauses):
        if piece.first + piece.length > last:
            break
        found.append(Piece(piece.first, min(piece.last, last - piece.length), piece.length))
    if option.duration == 0 or not found:
        return found
    taken: list[tuple[int, int]] = []
    for lane, amount in option.lanes:
        taken.extend(timeline.lanes[lane].full(first, last, amount))
    for crew in option.crews:
        for start, end, place in timeline.crews[crew]:
            from_here = start - timeline.travel[node.place][place]
            to_here = end + timeline.travel[place][node.place]
            if to_here > first and from_here < last:
                taken.append((from_here, to_here))
    if not taken:
        return found
    taken.sort()
    merged = [taken[0]]
    for start, end in taken[1:]:
        if start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return [clear for piece in found for clear in _clear(piece, merged)]


def _clear(piece: Piece, taken: list[tuple[int, int]]) -> list[Piece]:
    """The starts of ``piece`` with no slot in ``taken``, which is sorted."""
    clear = []
    start = piece.first
    for from_, to in taken:
        if to <= start:
            continue
        stop = from_ - piece.length
        if stop >= piece.last:
            break
        if stop >= start:
            clear.append(Piece(start, stop, piece.length))
        start = to
        if start > piece.last:
            return clear
    clear.append(Piece(start, piece.last, piece.length))
    return clear
