"""Somebody new to the site, who goes by what is seen on the page alone, and counts what has to be typed."""

from __future__ import annotations

import os
import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.conf import settings

from tests.kept import copy_sqlite

#: Milliseconds for a page, and for a plan to be worked out, on a slow machine.
PAGE, PLAN = 60_000, 180_000


@contextmanager
def started(folder: Path) -> Iterator[str]:
    """``manage.py start`` in a data folder where nothing is but tables; gives the address that it prints."""
    folder.mkdir(parents=True, exist_ok=True)
    copy_sqlite(folder / "db.sqlite3")
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, str(settings.BASE_DIR / "manage.py"), "start", "--port", str(port)]
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("FARMBUILD_", "DATABASE_URL"))}
    process = subprocess.Popen(
        command,
        cwd=settings.BASE_DIR,
        env=kept | {"FARMBUILD_DATA": str(folder), "PYTHONUNBUFFERED": "1"},
        stdout=subprocess.PIPE,
        text=True,
    )
    try:
        yield _address(process)
    finally:
        process.terminate()
        process.wait(timeout=30)
        process.stdout.close()


def _address(process: subprocess.Popen[str]) -> str:
    for line in process.stdout:
        if found := re.search(r"http://localhost:\d+/", line):
            return found[0]
    raise AssertionError(f"start ended with {process.wait()} before it said where the site is")


class Newcomer:
    """Follows links and presses buttons by their words; ``typed`` are the fields changed from what was proposed."""

    def __init__(self, page: Any, address: str) -> None:
        self.page = page
        page.set_default_timeout(PAGE)
        self.typed: list[str] = []
        self.forms: list[str] = []
        self.pages = [address]
        page.goto(address)

    @property
    def text(self) -> str:
        return self.page.inner_text("main")

    def _press(self, thing: Any) -> None:
        with self.page.expect_navigation(wait_until="load"):
            thing.click()
        self.pages.append(self.page.url)
        assert not self.page.locator(".error-summary:visible").count(), self.text[:1500]

    def follow(self, words: str, *, within: str = "main") -> None:
        """A link that is seen, at once or under "More"."""
        found = self.page.locator(within).get_by_role("link", name=words, exact=True).locator("visible=true")
        if not found.count() and self.page.locator(f"{within} .more").count():
            self.page.locator(f"{within} .more summary").click()
        self._press(found.first)

    def press(self, words: str) -> None:
        button = self.page.locator("main").get_by_role(
            "button", name=re.compile(re.escape(words).replace(r"\ ", r"\s+"))
        )
        self.forms.append(f"{self.page.url} {words}")
        self._press(button.locator("visible=true").first)

    def type(self, label: str | re.Pattern[str], value: str) -> None:
        """A text, number, date or file; what stands there already is not typed again."""
        field = self._field(label)
        assert field.input_value() != value, f"{label} is proposed already"
        field.fill(value)
        self.typed.append(label if isinstance(label, str) else label.pattern)

    def choose(self, label: str, words: str) -> None:
        field = self._field(label)
        field.select_option(label=words)
        self.typed.append(label)

    def shows(self, label: str) -> str:
        """What is proposed."""
        field = self._field(label)
        return field.evaluate("f => f.tagName === 'SELECT' ? f.selectedOptions[0].text : f.value")

    def _field(self, label: str | re.Pattern[str]) -> Any:
        return self.page.locator("main").get_by_label(label, exact=True).locator("visible=true").first

    def download(self, words: str) -> Path:
        with self.page.expect_download() as coming:
            self.page.locator("main").get_by_role("link", name=words, exact=True).first.click()
        return Path(coming.value.path())
