"""A schedule in the making, and how good it is."""

from __future__ import annotations

from dataclasses import dataclass, field

from farmbuild.planning.scheduling.problem import Problem

#: Place of the option in the node's options, start, end.
Place = tuple[int, int, int]


@dataclass
class Draft:
    """``places`` by node; fixed nodes are in it. ``failed``: nodes there was no room for, with all that wait."""

    problem: Problem
    places: dict[int, Place]
    failed: list[int] = field(default_factory=list)
    #: Nodes that end too late for a fixed task that waits for them.
    missed: list[int] = field(default_factory=list)

    @property
    def makespan(self) -> int:
        return max((end for _, _, end in self.places.values()), default=0)

    def late(self) -> set[int]:
        return {
            node.job
            for node in self.problem.nodes
            if node.task.due is not None and node.index in self.places and self.places[node.index][2] > node.task.due
        }

    def lateness(self) -> int:
        """Slots of all late tasks together: tells apart schedules with as many late jobs."""
        return sum(
            max(0, self.places[node.index][2] - node.task.due)
            for node in self.problem.nodes
            if node.task.due is not None and node.index in self.places
        )

    def moved(self) -> int:
        return sum(1 for k in self.places if self.is_moved(k))

    def is_moved(self, k: int) -> bool:
        published = self.problem.nodes[k].task.published
        if published is None or k not in self.places:
            return False
        option, start, end = self.places[k]
        way = self.problem.nodes[k].options[option].way
        return (published.start, published.end, published.way) != (start, end, way)

    def cost(self) -> tuple[int, ...]:
        """Less is better: tasks without a place, late jobs, makespan, lateness."""
        return len(self.failed), len(self.missed), len(self.late()), self.makespan, self.lateness()


def fixed_places(problem: Problem) -> dict[int, Place]:
    return {
        node.index: (node.fixed.way, node.fixed.start, node.fixed.end)
        for node in problem.nodes
        if node.fixed is not None
    }
