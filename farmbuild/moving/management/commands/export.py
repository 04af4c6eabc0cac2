"""All that an organisation owns, into one file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from farmbuild.measure import format_count
from farmbuild.moving.going import write_export
from farmbuild.orgs.models import Organisation


class Command(BaseCommand):
    help = (
        "Write all that an organisation owns into one zip: rows as JSON lines, sheets as CSV, photos and sent files as"
        " files. People go along by name and e-mail; passwords, links and sign-ins stay. Others work on meanwhile."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("organisation", help="its short name, as in /of/SHORT-NAME/")
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        organisation = Organisation.objects.filter(slug=options["organisation"]).first()
        if organisation is None:
            names = ", ".join(Organisation.objects.order_by("slug").values_list("slug", flat=True)[:20])
            raise CommandError(f"There is no organisation {options['organisation']}. There are: {names or 'none'}.")
        to: Path = options["file"]
        if not to.parent.is_dir():
            raise CommandError(f"There is no folder {to.parent}.")
        manifest = write_export(organisation=organisation, to=to)
        rows = sum(rows for rows, _ in manifest["tables"].values())
        self.stdout.write(
            f"{to} has {format_count(rows)} rows and {format_count(manifest['files'][0])} files of {organisation}."
        )
        for label, why in manifest["left out"].items():
            if why[:1].isdigit():
                self.stdout.write(f"Not in it: {label}, {why}.")
