"""For a timer: the week goes by e-mail to whoever wants it."""

from __future__ import annotations

from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.urls import get_script_prefix, set_script_prefix

from farmbuild.access import mail
from farmbuild.crew.weekly.sending import send_due
from farmbuild.measure import count_noun


class Command(BaseCommand):
    help = "Sends the week by e-mail, once a week a person, from Friday on. Run it as often as you like."

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
            tried = list(send_due(site=f"{parts.scheme}://{parts.netloc}"))
        finally:
            set_script_prefix(before)
        sent, failed = tried.count(True), tried.count(False)
        self.stdout.write(f"{count_noun(sent, 'sheet')} sent.")
        if failed:
            raise CommandError(f"{count_noun(failed, 'sheet')} not sent; the next run tries again.")
