"""Set up the database and open the site on this machine; the first page asks who you are."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from farmbuild.common.serving import check_folder, check_port, plain_words, prepare_database, serve
from farmbuild.orgs.first_account import is_open, needs_code, set_up_code


class Command(BaseCommand):
    help = "Set up the database and open the site on this machine; the first page asks who you are."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--no-serve", action="store_true", help="stop when the database is ready")

    def handle(self, *args: Any, port: int, no_serve: bool, **options: Any) -> None:
        if not no_serve and not needs_code():
            check_port(port, command="start")
        check_folder(settings.DATA_DIR)
        self.stderr.write("Setting up the database …")
        prepare_database()
        with plain_words():
            first = is_open()
        if needs_code():
            # Behind a web server of its own, which serves it.
            self.stdout.write(
                f"Open https://{settings.PUBLIC_HOSTS[0]}/ and give this set-up code: {set_up_code()}"
                if first
                else "The database is ready, and the site is set up."
            )
            return
        if no_serve:
            return
        serve(port, command="start", say=lambda: self._say_where(port, first=first))

    def _say_where(self, port: int, *, first: bool) -> None:
        self.stdout.write(f"\nOpen http://localhost:{port}/{' and say who you are.' if first else ''}")
        self.stdout.write("Stop it with Ctrl+C.")
        self.stdout.flush()
