"""The file of an export: a zip of JSON lines, sheets and files, with a manifest. Read as if a stranger had made it."""

from __future__ import annotations

import hashlib
import json
import re
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

from django.core.management.base import CommandError

from farmbuild.measure import format_count

MANIFEST, PEOPLE = "manifest.json", "people.jsonl"
FORM = "farmbuild organisation"
VERSION = 1
#: Bytes. A plan is one line, a photo one file.
MAX_MANIFEST, MAX_LINE, MAX_FILE = 4 << 20, 256 << 20, 128 << 20
#: All of it unpacked, and how many times the size of what is packed.
MAX_ALL, MAX_TIMES = 64 << 30, 300
MAX_PARTS = 1_000_000
_NAME = re.compile(
    r"manifest\.json|people\.jsonl|rows/[A-Za-z_.]+\.jsonl|sheets/[a-z-]+\.csv|files/[A-Za-z_.]+/[\w.-]+", re.ASCII
)
_PIECE = 1 << 20


def rows_name(label: str) -> str:
    return f"rows/{label}.jsonl"


class Damaged(CommandError):
    """The file is not as it was written; the text says what of it."""


class Package:
    """An export that is read. Nothing of it is ever unpacked to disk."""

    def __init__(self, file: Path, archive: zipfile.ZipFile) -> None:
        self.file, self.archive = file, archive
        self.parts = self._parts()
        self.manifest = self._manifest()

    @classmethod
    @contextmanager
    def opened(cls, file: Path) -> Iterator[Package]:
        """Raises CommandError where it is no export, or is damaged."""
        try:
            with zipfile.ZipFile(file) as archive:
                yield cls(file, archive)
        except FileNotFoundError:
            raise CommandError(f"There is no file {file}.") from None
        except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, NotImplementedError, IsADirectoryError) as error:
            raise Damaged(f"{file} is no export of farmbuild, or it is damaged ({error}).") from error

    def _parts(self) -> dict[str, zipfile.ZipInfo]:
        found: dict[str, zipfile.ZipInfo] = {}
        whole = 0
        parts = self.archive.infolist()
        if len(parts) > MAX_PARTS:
            raise Damaged(f"{self.file} has more than {format_count(MAX_PARTS)} parts.")
        for part in parts:
            name = part.filename
            if ".." in name or name.startswith("/") or "\\" in name or not _NAME.fullmatch(name):
                raise Damaged(f"{self.file} has a part with the name {name!r}, which no export has.")
            if name in found:
                raise Damaged(f"{self.file} has the part {name} twice.")
            if part.flag_bits & 1:
                raise Damaged(f"{self.file} is locked with a password.")
            whole += part.file_size
            if whole > MAX_ALL or (part.file_size > _PIECE and part.file_size > MAX_TIMES * max(part.compress_size, 1)):
                raise Damaged(f"{self.file} would become far too large: {name} is packed to hide its size.")
            found[name] = part
        return found

    def _manifest(self) -> dict[str, Any]:
        if MANIFEST not in self.parts:
            raise Damaged(f"{self.file} is no export of farmbuild: it has no {MANIFEST}.")
        try:
            manifest = json.loads(self.bytes_of(MANIFEST, MAX_MANIFEST))
            if manifest["form"] != FORM:
                raise ValueError
            if manifest["version"] > VERSION:
                raise CommandError(f"{self.file} was made by a newer farmbuild. Install that version first.")
            named = {MANIFEST, *manifest["parts"]}
        except (KeyError, TypeError, ValueError) as error:
            raise Damaged(f"{self.file} is no export of farmbuild, or its {MANIFEST} is damaged.") from error
        others = {name for name in self.parts if not name.startswith("files/")} ^ named
        if others:
            raise Damaged(f"{self.file} is not whole: {min(others)} is missing, or nobody put it there.")
        return manifest

    def check_digests(self) -> None:
        """Every part but the files, which are looked at with the rows that name them."""
        for name, (size, digest) in self.manifest["parts"].items():
            if self.parts[name].file_size != size or self._digest(name) != digest:
                raise Damaged(f"{self.file} is damaged: {name} is not what was written.")

    def _digest(self, name: str) -> str:
        added = hashlib.sha256()
        with self.archive.open(name) as part:
            while piece := part.read(_PIECE):
                added.update(piece)
        return added.hexdigest()

    def bytes_of(self, name: str, most: int) -> bytes:
        if name not in self.parts:
            raise Damaged(f"{self.file} is not whole: {name} is missing.")
        if self.parts[name].file_size > most:
            raise Damaged(f"{self.file}: {name} is larger than any can be.")
        with self.archive.open(name) as part:
            data = part.read(most + 1)
        if len(data) > most:
            raise Damaged(f"{self.file}: {name} is larger than any can be.")
        return data

    def data_of(self, told: Any) -> bytes:
        """The bytes that a row names."""
        try:
            name, size, digest = str(told["file"]), int(told["size"]), str(told["sha256"])
        except (KeyError, TypeError, ValueError):
            raise Damaged(f"{self.file}: a row names its file in a way that no export does.") from None
        data = self.bytes_of(name, MAX_FILE)
        if len(data) != size or hashlib.sha256(data).hexdigest() != digest:
            raise Damaged(f"{self.file} is damaged: {name} is not what was written.")
        return data

    def lines(self, name: str) -> Iterator[dict[str, Any]]:
        with self.archive.open(name) as part:
            for number, line in enumerate(_lines(part), 1):
                try:
                    row = json.loads(line)
                except (ValueError, RecursionError):
                    row = None
                if not isinstance(row, dict):
                    raise Damaged(f"{self.file}: line {number} of {name} cannot be read.")
                yield row


def _lines(part: IO[bytes]) -> Iterator[bytes]:
    while line := part.readline(MAX_LINE + 1):
        if len(line) > MAX_LINE:
            raise Damaged("A line of it is longer than any can be.")
        yield line
