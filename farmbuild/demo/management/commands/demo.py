"""Load the invented season, write its supplier spreadsheets, and open the site on this machine."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from farmbuild.common.serving import check_folder, check_port, plain_words, prepare_database, serve
from farmbuild.demo.bridge import files_of
from farmbuild.demo.season import load_season
from farmbuild.demo.services import PASSWORD, Demo, visitors_of
from farmbuild.demo.standing import standing_of
from farmbuild.measure import format_count
from farmbuild.orgs.models import Membership
from farmbuild.orgs.throwing_away import throw_away


class Command(BaseCommand):
    help = "Load an invented season, write its supplier spreadsheets, and open the site on this machine."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--out", type=Path, default=settings.DATA_DIR / "demo-out", help="folder for the spreadsheets"
        )
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--no-serve", action="store_true", help="stop after writing the spreadsheets")

        parser.add_argument("--throw-away", action="store_true", help="remove the invented season, and nothing else")

    def handle(
        self, *args: Any, out: Path, port: int, no_serve: bool, throw_away: bool = False, **options: Any
    ) -> None:
        if throw_away:
            self._remove()
            return
        if settings.PUBLIC_HOSTS:
            raise CommandError(
                "The demo has a sign-in that everybody knows; it is not loaded where FARMBUILD_HOSTS is set."
            )
        if not no_serve:
            check_port(port, command="demo")
        check_folder(settings.DATA_DIR)
        check_folder(out)
        self.stderr.write("Setting up the database …")
        prepare_database()
        self.stderr.write("Loading the invented season, its plan and the work so far …")
        names = []
        with plain_words():
            demo = load_season()
            if demo.plan.problem:
                raise CommandError(demo.plan.problem)
            for file in files_of(demo.plan):
                (out / file.name).write_bytes(file.data)
                names.append(file.name)
        self.stdout.write("\nThe invented season as it stands today:")
        for words in standing_of(organisation=demo.organisation):
            self.stdout.write(f"  {words}")
        self.stdout.write(f"\nThe spreadsheets of the season are in {out.resolve()}:")
        for name in names:
            self.stdout.write(f"  {name}")
        if no_serve:
            return
        serve(port, command="demo", say=lambda: self._say_where(port, demo))

    def _say_where(self, port: int, demo: Demo) -> None:
        self.stdout.write(f"\nOpen     http://localhost:{port}/")
        self.stdout.write(f"Sign in  {demo.user.username}")
        self.stdout.write(f"Password {PASSWORD}")
        for visitor in visitors_of(demo):
            self.stdout.write(f"         ({visitor.username}, with the same password, is a member who borrows benders)")
        self.stdout.write("Beside it you can set up a farm of your own: the page for signing in leads there.")
        self.stdout.write("Stop it with Ctrl+C.")
        self.stdout.flush()

    def _remove(self) -> None:
        check_folder(settings.DATA_DIR)
        prepare_database()
        owners = Membership.objects.filter(organisation__invented=True, role=Membership.Role.OWNER)
        if not (owner := owners.select_related("organisation", "user").first()):
            raise CommandError("There is no invented season here.")
        with plain_words():
            rows = throw_away(organisation=owner.organisation, user=owner.user)
        name = owner.organisation.name
        self.stdout.write(f"The invented season of {name} is thrown away: {format_count(rows)} rows.")
