"""Order sheets as a supplier reads them."""

from __future__ import annotations

import io

from openpyxl import load_workbook

from farmbuild.workbooks.services import PlanFile


def order_rows(file: PlanFile) -> list[dict[str, object]]:
    """Each line of the sheet by the headings of its columns."""
    sheet = load_workbook(io.BytesIO(file.data)).worksheets[0]
    rows = [[cell.value for cell in row] for row in sheet.iter_rows()]
    at = next(n for n, row in enumerate(rows) if row[0] == "No.")
    return [dict(zip(rows[at], row, strict=False)) for row in rows[at + 1 :] if isinstance(row[0], int)]
