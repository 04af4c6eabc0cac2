"""Where the tests find what is not in this folder, and what is beside it."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
OPEN_DATA = Path(os.environ.get("FARMBUILD_OPEN_DATA") or ROOT.parent / "shared" / "data")
NO_OPEN_DATA = f"the open data sets are not in {OPEN_DATA}, which FARMBUILD_OPEN_DATA sets"


def chromium() -> str | None:
    """Chromium, or the browser that is built from it, by the names that packages give it.

    First the same without windows, which opens a page for half of the processor's time.
    """
    names = ("chromium-headless-shell", "chromium", "chromium-browser", "google-chrome")
    return next(filter(None, map(shutil.which, names)), None)
