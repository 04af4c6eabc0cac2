"""The bending sheet as Chromium prints it: one sheet of paper, with what is filled in by hand."""

from __future__ import annotations

import re
import shutil
import subprocess

import pytest

from tests.conftest import NOTHING_MISSING

pytestmark = [
    pytest.mark.browser,
    pytest.mark.django_db(transaction=True),
    pytest.mark.skipif(
        not shutil.which("pdftotext") and not NOTHING_MISSING, reason="needs pdftotext and pdfinfo: poppler-utils"
    ),
]


def test_one_sheet_of_paper(page_at, tmp_path):
    page = page_at(1440)
    for address in ("/hoops/batches/1/sheet/", "/hoops/hoop-20-ft/sheet/", "/hoops/hoop-6-ft-3-4/sheet/"):
        page.goto(address)
        for paper in ("Letter", "A4"):
            path = tmp_path / "sheet.pdf"
            page.pdf(path=path, format=paper)

            def run(*command: str) -> str:
                return subprocess.run(command, capture_output=True, text=True, check=True, timeout=60).stdout

            info, text = run("pdfinfo", str(path)), run("pdftotext", "-layout", str(path), "-")
            assert re.search(r"Pages:\s+1\b", info), (address, paper)
            for words in (
                "9' 3\"",
                "Stop gap",
                "Hoops bent",
                "Caution: Pipe under spring load",
                "Name",
                "Date",
            ):
                assert words in text, (address, paper, words)
            assert "Print for the bender" not in text
