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

from farmbuild.measure import format_count

OLE_MAGIC = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
ZIP_MAGICS = (b"PK\x03\x04", b"PK\x05\x06")
MAX_BYTES = 40 * 1024 * 1024
MAX_UNPACKED = 128 * 1024 * 1024
#: What openpyxl takes about 10 s to read on one processor (seen), and less than 200 MB: filled cells of all sheets, and
#: different texts. Each is two elements, and an element two tags.
MAX_CELLS = 700_000
MAX_TAGS = 4 * MAX_CELLS
#: Of a part that is read whole before any row: styles take longest, about 20 µs a tag (seen).
MAX_TAGS_OF_OTHERS = 100_000
MAX_PARTS = 1000
#: Worksheets of equal rows were seen to pack 90 to 1; deflate itself ends at 1032 to 1.
MAX_RATIO = 300
RATIO_FROM = 4 * 1024 * 1024
_DIRECTORY_BYTES_A_PART = 512
_PROLOG_BYTES = 64 * 1024
_AT_ONCE = 1024 * 1024
#: First elements of the parts that grow with rows (ECMA-376 part 1, 18.3 and 18.4).
_ROWS = ("worksheet", "sst")


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


def unpacked_bytes(data: bytes) -> int:
    """What a file comes to when it is opened, by its own directory; as it is where it is no archive."""
    if not data.startswith(ZIP_MAGICS):
        return len(data)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return sum(part.file_size for part in archive.infolist())
    except Exception:
        # Damaged: whoever reads it says so.
        return len(data)


def damaged(filename: str) -> WorkbookError:
    return WorkbookError(
        f"{filename} is damaged or is not a spreadsheet. Open it in a spreadsheet program and save it again as .xlsx."
    )


def _too_much(filename: str) -> WorkbookError:
    return WorkbookError(
        f"{filename} unpacks to far more than a spreadsheet should (at most {MAX_UNPACKED // 1024**2} MB in"
        f" {format_count(MAX_PARTS)} parts, and {MAX_RATIO} times the size of the file), so it was not opened. "
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
    """Parts are looked through as they unpack, a piece at a time, and nothing of them is kept."""
    of_rows = 0
    for part in archive.infolist():
        with archive.open(part) as stream:
            start = stream.read(_PROLOG_BYTES)
            has_doctype, first = _prolog(start)
            if has_doctype:
                raise WorkbookError(
                    f"{filename} holds definitions that no spreadsheet has, so it was not opened. "
                    "Copy the rows that matter to a new spreadsheet and send that."
                )
            if not first:
                continue
            tags, more = start.count(b"<"), start
            while more:
                if first in _ROWS and of_rows + tags > MAX_TAGS:
                    raise WorkbookError(
                        f"{filename} has more than about {format_count(MAX_CELLS)} filled cells and different texts, "
                        "which is more than can be read at once. Split it into smaller files."
                    )
                if first not in _ROWS and tags > MAX_TAGS_OF_OTHERS:
                    raise _too_much(filename)
                more = stream.read(_AT_ONCE)
                tags += more.count(b"<")
            of_rows += tags if first in _ROWS else 0


def _prolog(start: bytes) -> tuple[bool, str]:
    """Whether a document type stands before the first element, and that element's name; what is no XML has neither."""
    found, first = False, ""

    def on_doctype(*_: object) -> None:
        nonlocal found
        found = True
        raise _Seen

    def on_element(name: str, _: object) -> None:
        nonlocal first
        first = name.rpartition(":")[2]
        raise _Seen

    parser = expat.ParserCreate()
    parser.StartDoctypeDeclHandler = on_doctype
    parser.StartElementHandler = on_element
    try:
        parser.Parse(start, False)
    except _Seen:
        return found, first
    except expat.ExpatError:
        return False, ""
    # A prolog this long without an element hides something.
    return len(start) >= _PROLOG_BYTES, ""
