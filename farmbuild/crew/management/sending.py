"""What commands that send e-mail have in common."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.urls import get_script_prefix, set_script_prefix

from farmbuild.access import mail
from farmbuild.measure import count_noun


class SendingCommand(BaseCommand):
    #: What is sent, one of it.
    noun = ""

    def send_due(self, *, site: str) -> Iterator[bool]:
        """For each that was tried whether it went out."""
        raise NotImplementedError

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--site", default="", help="where the site answers, as in https://growers.example.org")

    def handle(self, *args: Any, **options: Any) -> None:
        if not mail.is_set_up():
            self.stdout.write("Nothing is sent: FARMBUILD_EMAIL is not set.")
            return
        given = options["site"] or (settings.PUBLIC_HOSTS and f"https://{settings.PUBLIC_HOSTS[0].lstrip('.')}")
        parts = urlsplit(given or "")
        if parts.scheme not in ("http", "https") or not parts.hostname:
            raise CommandError("Say where the site answers: --site https://growers.example.org, or FARMBUILD_HOSTS.")
        before = get_script_prefix()
        set_script_prefix(f"{parts.path.rstrip('/')}/")
        try:
            tried = list(self.send_due(site=f"{parts.scheme}://{parts.netloc}"))
        finally:
            set_script_prefix(before)
        sent, failed = tried.count(True), tried.count(False)
        self.stdout.write(f"{count_noun(sent, self.noun)} sent.")
        if failed:
            raise CommandError(f"{count_noun(failed, self.noun)} not sent; the next run tries again.")
