"""Files as people send them, built with openpyxl."""

from __future__ import annotations

import io
import zipfile

from openpyxl import Workbook

HEAD = (
    "Material",
    "Length",
    "Quantity",
    "Place",
    "Cost of one",
    "Supplier",
    "Received on",
    "Reference",
    "Offcut",
    "Site",
)
OLE_START = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"


def workbook(*rows, head=HEAD, title="Lots") -> bytes:
    book = Workbook()
    book.active.title = title
    for row in (head, *rows):
        book.active.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def old_workbook() -> bytes:
    """What a .xls starts with, as after renaming one to .xlsx."""
    return OLE_START + bytes(2048)


def zip_bomb() -> bytes:
    """A sheet that unpacks to 260 MB of nothing."""
    out = io.BytesIO()
    good = zipfile.ZipFile(io.BytesIO(workbook(("rail-1-3-8", "10'", 1, "Rack"))))
    with good, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as bad:
        for part in good.infolist():
            if part.filename != "xl/worksheets/sheet1.xml":
                bad.writestr(part, good.read(part))
        with bad.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as sheet:
            block = b" " * 2**20
            for _ in range(260):
                sheet.write(block)
    return out.getvalue()


def long_workbook(rows: int) -> bytes:
    """One cell a row, because only their number matters."""
    book = Workbook(write_only=True)
    sheet = book.create_sheet("Lots")
    sheet.append(("Quantity", "Material", "Place"))
    for _ in range(rows):
        sheet.append((1,))
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()
