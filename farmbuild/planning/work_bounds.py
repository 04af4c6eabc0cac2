"""What no schedule can be better than."""

from __future__ import annotations

from farmbuild.planning.work_problem import Problem, earliest_end


def makespan_bound(problem: Problem) -> int:
    """The longest chain of tasks that wait for each other, with the calendars of those who do them."""
    return max(
        (node.fixed.end if node.fixed is not None else earliest_end(node, node.head) for node in problem.nodes),
        default=0,
    )
