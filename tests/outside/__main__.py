"""Work a planned season out a second time: ``python -m tests.outside SEASON.xlsx FOLDER``.

SEASON.xlsx is a filled project workbook and FOLDER what ``manage.py plan`` wrote of it. Every disagreement is printed;
the exit status says whether there is one.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from tests.outside.books import Project, read
from tests.outside.cuts import cut_problems, stick_problems
from tests.outside.headings import HEADINGS
from tests.outside.orders import buying_problems
from tests.outside.takeoff import plan_differences


def disagreements(project: Project, plan: dict) -> list[str]:
    found = []
    for ref in project.houses:
        given = [row for row in plan["takeoff"] if row["house"] == ref]
        found += [f"{ref}: {line}" for line in plan_differences(project.house(ref), given)]
    found += [f"{row['house']} is not in the workbook" for row in plan["takeoff"] if row["house"] not in project.houses]
    return found + stick_problems(project, plan) + cut_problems(project, plan) + buying_problems(project, plan)


def main(season: str, folder: str) -> int:
    project = read(Path(season).read_bytes(), HEADINGS)
    plan = json.loads((Path(folder) / "plan.json").read_text(encoding="utf-8"))["plan"]
    found = disagreements(project, plan)
    counts = (
        f"{len(plan['takeoff'])} rows, {sum(s['times'] for s in plan['layouts'])} sticks, {len(plan['orders'])} orders"
    )
    sys.stdout.write("\n".join([*found, f"{counts}: {len(found) or 'no'} disagreement(s)", ""]))
    return 1 if found else 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:3]))
