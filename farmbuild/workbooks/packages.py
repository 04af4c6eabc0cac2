"""Whether a file that someone sent is a workbook, and safe to open.

A workbook is a zip archive of XML parts (ECMA-376 part 2). A small archive can unpack to more than the
machine holds, and an XML part can define entities that grow without end. Both are checked before anything
is opened. The sizes stand in the archive's directory, and Python's zipfile never reads a part beyond the
size that stands there. No workbook has a document type definition (ECMA-376 part 2 on XML usage, from
memory).
"""

from __future__ import annotations

import io
import struct
import zipfile
from xml.parsers import expat

OLE_MAGIC = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
ZIP_MAGICS = (b"PK\x03\x04", b"PK\x05\x06")
MAX_BYTES = 40 * 1024 * 1024
MAX_UNPACKED = 256 * 1024 * 1024
MAX_PARTS = 1000
#: Worksheets of equal rows were seen to pack 90 to 1; deflate itself ends at 1032 to 1.
MAX_RATIO = 300
RATIO_FROM = 4 * 1024 * 1024
_DIRECTORY_BYTES_A_PART = 512
_PROLOG_BYTES = 64 * 1024


class WorkbookError(ValueError):
    """A whole file cannot be read; the text is a sentence for the person who sent it."""


class _Seen(Exception):
    pass


def check_package(data: bytes, filename: str) -> None:
    """Raise WorkbookError unless ``data`` is a zip archive that is safe to read as a workbook."""
    if data.startswith(OLE_MAGIC):
        if "EncryptedPackage".encode("utf-16-le") in data:
            raise WorkbookError(f"{filename} is locked with a password. Save it again without one and send that file.")
        raise WorkbookError(
            f"{filename} is a spreadsheet in the old .xls format, whatever its name says. "
            "Open it in a spreadsheet program and save it as .xlsx."
        )
    if len(data) > MAX_BYTES:
        raise WorkbookError(f"{filename} is larger than {MAX_BYTES // 1024**2} MB. Split it into smaller files.")
    _check_directory_size(data, filename)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _check_parts(archive, filename)
            _check_content(archive, filename)
    except WorkbookError:
        raise
    except Exception as error:
        # A damaged archive can fail in many ways inside zipfile and zlib; all of them mean the same here.
        raise damaged(filename) from error


def damaged(filename: str) -> WorkbookError:
    return WorkbookError(
        f"{filename} is damaged or is not a spreadsheet. Open it in a spreadsheet program and save it again as .xlsx."
    )


def _too_much(filename: str) -> WorkbookError:
    return WorkbookError(
        f"{filename} unpacks to far more than a spreadsheet should, so it was not opened. "
        "Copy the rows that matter to a new spreadsheet and send that."
    )


def _check_directory_size(data: bytes, filename: str) -> None:
    """zipfile reads the whole directory at once, so look at its size first (PKZIP appnote 4.3.16)."""
    at = data.rfind(b"PK\x05\x06", max(0, len(data) - 22 - 0xFFFF))
    if at < 0 or at + 22 > len(data):
        raise damaged(filename)
    parts, size = struct.unpack("<HI", data[at + 10 : at + 16])
    if parts > MAX_PARTS or size > MAX_PARTS * _DIRECTORY_BYTES_A_PART:
        raise _too_much(filename)


def _check_parts(archive: zipfile.ZipFile, filename: str) -> None:
    parts = archive.infolist()
    if len(parts) > MAX_PARTS:
        raise _too_much(filename)
    unpacked = sum(part.file_size for part in parts)
    packed = sum(part.compress_size for part in parts)
    if unpacked > MAX_UNPACKED or (unpacked > RATIO_FROM and unpacked > MAX_RATIO * packed):
        raise _too_much(filename)
    if any(part.flag_bits & 0x1 for part in parts):
        raise WorkbookError(f"{filename} is locked with a password. Save it again without one and send that file.")
    names = {part.filename for part in parts}
    if len(names) < len(parts):
        raise damaged(filename)
    if "[Content_Types].xml" not in names:
        raise WorkbookError(f"{filename} is not a spreadsheet. Send a file saved as .xlsx or .csv.")


def _check_content(archive: zipfile.ZipFile, filename: str) -> None:
    for part in archive.infolist():
        with archive.open(part) as stream:
            if _has_doctype(stream.read(_PROLOG_BYTES)):
                raise WorkbookError(
                    f"{filename} holds definitions that no spreadsheet has, so it was not opened. "
                    "Copy the rows that matter to a new spreadsheet and send that."
                )


def _has_doctype(start: bytes) -> bool:
    """Whether a document type stands before the first element; what is no XML at all has none."""
    found = False

    def on_doctype(*_: object) -> None:
        nonlocal found
        found = True
        raise _Seen

    def on_element(*_: object) -> None:
        raise _Seen

    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = on_doctype
    parser.StartElementHandler = on_element
    try:
        parser.Parse(start, False)
    except _Seen:
        return found
    except expat.ExpatError:
        return False
    # A prolog this long without an element hides something.
    return len(start) >= _PROLOG_BYTES
