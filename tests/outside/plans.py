"""The plan of each project of the odd houses, worked out once a process."""

from __future__ import annotations

import atexit
import shutil
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

from tests.outside.books import Project, planned
from tests.outside.headings import HEADINGS
from tests.outside.houses import PROJECTS


@cache
def plan_of(name: str) -> tuple[Project, dict[str, Any], Path]:
    """The project, its plan, and the folder that holds the workbook and what was written of it."""
    folder = Path(tempfile.mkdtemp(prefix="farmbuild-outside-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    return PROJECTS[name], planned(PROJECTS[name], HEADINGS, folder), folder
