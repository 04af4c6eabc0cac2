"""The solver as every room of planning uses it."""

from __future__ import annotations

from ortools.sat.python import cp_model


def plain_solver() -> cp_model.CpSolver:
    """One worker and one seed, so that the same question has the same answer from run to run.

    Ctrl+C stays with Python: the solver would take it for its own stop and go on with the rest, and afterwards leave
    the process without the handler by which a command says how it goes on.
    """
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = 1
    solver.parameters.catch_sigint_signal = False
    return solver
