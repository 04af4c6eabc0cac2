"""Ctrl+C ends a command that plans, while it searches and after."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from django.conf import settings

SEARCH = """
import os, signal, sys, threading
from ortools.sat.python import cp_model
from farmbuild.planning.solver import plain_solver

model, solver = cp_model.CpModel(), plain_solver()
if sys.argv[1] == "while":
    # Forty pigeons in thirty-nine holes: no answer within the time.
    seats = [[model.new_bool_var("") for _ in range(39)] for _ in range(40)]
    for bird in seats:
        model.add_bool_or(bird)
    for hole in zip(*seats):
        for i, one in enumerate(hole):
            for other in hole[i + 1 :]:
                model.add_bool_or(~one, ~other)
    solver.parameters.max_time_in_seconds = 2
    solver.parameters.cp_model_presolve = False
    threading.Timer(0.5, os.kill, (os.getpid(), signal.SIGINT)).start()
try:
    solver.solve(model)
    if sys.argv[1] == "after":
        os.kill(os.getpid(), signal.SIGINT)
    threading.Event().wait(5)
except KeyboardInterrupt:
    print("stopped")
"""


@pytest.mark.parametrize("when", ["while", "after"])
def test_ctrl_c_reaches_the_command(when: str) -> None:
    ended = subprocess.run(
        [sys.executable, "-c", SEARCH, when],
        cwd=settings.BASE_DIR,
        capture_output=True,
        encoding="utf-8",
        timeout=60,
        check=False,
    )
    assert (ended.returncode, ended.stdout) == (0, "stopped\n"), ended.stderr


def test_nobody_makes_a_solver_of_another_kind() -> None:
    makers = [
        str(path.relative_to(settings.BASE_DIR))
        for path in Path(settings.BASE_DIR, "farmbuild").rglob("*.py")
        if "CpSolver()" in path.read_text(encoding="utf-8")
    ]
    assert makers == [str(Path("farmbuild", "planning", "solver.py"))]
