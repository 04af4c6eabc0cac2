"""For whoever keeps the machine: lets somebody sign in again whose phone and paper are lost."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from farmbuild.access.second_step import turn_off
from farmbuild.orgs.models import User


class Command(BaseCommand):
    help = "Turns the second step of a sign-in off, so that name and password are enough."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("name", help="the name that the person signs in with")

    def handle(self, *args: Any, **options: Any) -> None:
        user = User.objects.filter(username=options["name"]).first()
        if user is None:
            raise CommandError(f"Nobody signs in as {options['name']}.")
        if not turn_off(user=user):
            raise CommandError(f"{options['name']} has no second step.")
        self.stdout.write(f"{options['name']} signs in with name and password alone now.")
