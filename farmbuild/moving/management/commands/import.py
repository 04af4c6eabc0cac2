"""An organisation from its export."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from farmbuild.measure import count_noun, format_count
from farmbuild.moving.coming import read_export


class Command(BaseCommand):
    help = (
        "Bring an organisation in from its export, beside others that are here, and compare every row, sum, digest and"
        " guard. All of it or nothing. People come without a password; hand each a link on the page People."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--match-email", action="store_true", help="whoever has the same e-mail here is the same person"
        )
        parser.add_argument("--address", default="", help="another short name in its addresses, where that is taken")

    def handle(self, *args: Any, **options: Any) -> None:
        came = read_export(file=options["file"], match_email=options["match_email"], address=options["address"])
        self.stdout.write(
            f"{came.organisation} is here, at /of/{came.organisation.slug}/: {format_count(came.rows)} rows, the same"
            " as were written, and all guards are in their places."
        )
        for words, names in (("new here, without a password", came.new_people), ("known here", came.known_people)):
            if names:
                self.stdout.write(f"{count_noun(len(names), 'person', 'people')} {words}: {', '.join(names)}.")
        for line in came.left_out:
            self.stdout.write(f"Not in it: {line}.")
