"""Whoever is at the machine erases a person."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError, CommandParser

from farmbuild.moving.erasing import FORMER, erase_self
from farmbuild.orgs.models import User
from farmbuild.orgs.owners import organisations_of


class Command(BaseCommand):
    help = (
        "Erase a person: name, e-mail, sign-in and calendars go for good, from every organisation; what they did stays"
        " with a former member. Backups and exports from before keep them."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("username", help="what they sign in as")
        parser.add_argument("--yes", action="store_true", help="do not ask")

    def handle(self, *args: Any, **options: Any) -> None:
        user = User.objects.filter(username=options["username"]).first()
        if user is None:
            raise CommandError(f"Nobody signs in as {options['username']}.")
        where = ", ".join(map(str, organisations_of(user))) or "no organisation"
        if not options["yes"]:
            self.stdout.write(f"{user.display_name} belongs to {where}. Nothing brings them back.")
            if input(f"Type {user.username} to erase them: ") != user.username:
                raise CommandError("Nothing was erased.")
        try:
            erase_self(user=user, by_keeper=True)
        except ValidationError as error:
            raise CommandError(" ".join(error.messages)) from error
        self.stdout.write(f"{user.username} is erased from {where}: what they did stays with “{FORMER}”.")
