"""Workbooks for tests: made by hand with openpyxl, recalculated by LibreOffice, and an invented season's plan."""

from __future__ import annotations

import io
import re
import subprocess
import zipfile
from collections.abc import Iterable, Sequence
from functools import cache
from pathlib import Path

from openpyxl import Workbook, load_workbook

from farmbuild.measure import UnitSystem
from farmbuild.planning.inputs import Lot, Season
from farmbuild.planning.results import SeasonPlan
from farmbuild.planning.season.plan import plan_season
from tests.planning.seasons import BUYER, LOW, TWELVE, TWENTY, Decimal, feet, house, inches, replace, season


def xlsx(rows: Iterable[Sequence[object]], *, title: str = "Stock", more: Sequence[str] = ()) -> bytes:
    """A workbook with one filled sheet and empty ones named in ``more``."""
    workbook = Workbook(write_only=True)
    for name in more:
        workbook.create_sheet(name)
    sheet = workbook.create_sheet(title)
    for row in rows:
        sheet.append(row)
    out = io.BytesIO()
    workbook.save(out)
    return out.getvalue()


def patched(data: bytes, edit: dict[str, object]) -> bytes:
    """The package with some parts replaced: by bytes, or by what a function makes of them."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as source, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as target:
        for name in source.namelist():
            change = edit.get(name)
            content = source.read(name)
            target.writestr(name, content if change is None else change(content) if callable(change) else change)
        for name in edit.keys() - set(source.namelist()):
            target.writestr(name, edit[name])
    return out.getvalue()


def without_results(data: bytes) -> bytes:
    """The workbook with the stored result of every formula taken out, so that a reader has to work them out."""

    def strip(part: bytes) -> bytes:
        return re.sub(rb"</f><v>[^<]*</v>", b"</f>", part)

    with zipfile.ZipFile(io.BytesIO(data)) as package:
        sheets = [name for name in package.namelist() if name.startswith("xl/worksheets/sheet")]
    return patched(data, dict.fromkeys(sheets, strip))


def recalculated(data: bytes, folder: Path):
    """The workbook opened, worked out afresh and saved by LibreOffice, as openpyxl reads its values."""
    return all_recalculated({"book": data}, folder)["book"]


def all_recalculated(books: dict[str, bytes], folder: Path):
    """By name, each of them so, in one start of it."""
    sources, target = {name: folder / "in" / f"{name}.xlsx" for name in books}, folder / "out"
    (folder / "in").mkdir(exist_ok=True)
    for name, source in sources.items():
        source.write_bytes(without_results(books[name]))
    subprocess.run(
        [
            "soffice",
            # Beside the folders of all tests of this process: to set a profile up takes longer than to convert.
            f"-env:UserInstallation={(folder.parent / 'office-profile').as_uri()}",
            "--headless",
            "--convert-to",
            "xlsx",
            "--outdir",
            str(target),
            *map(str, sources.values()),
        ],
        check=True,
        capture_output=True,
        timeout=180,
    )
    return {name: load_workbook(target / f"{name}.xlsx", data_only=True) for name in books}


def small_season(units: UnitSystem = UnitSystem.IMPERIAL) -> Season:
    return season(
        house("A", TWELVE),
        house("B", TWENTY, site="creek"),
        house("C", LOW),
        lots=(
            Lot("L1", "rail-1-3-8", feet(10), 30, Decimal("12.1"), "Rack 1", site="north"),
            Lot("L2", "lumber-2x4", inches("61.25"), 3, Decimal("2.05"), "Rack 2", True),
        ),
        buyer=replace(BUYER, units=units),
    )


@cache
def small_plan(units: UnitSystem = UnitSystem.IMPERIAL) -> SeasonPlan:
    return plan_season(small_season(units))
