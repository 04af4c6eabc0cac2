"""``manage.py backup``: a copy of the whole database in one file, while people work on."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from farmbuild.common.backups import keeping, services
from farmbuild.common.serving import plain_words
from farmbuild.measure import count_noun


class Command(BaseCommand):
    help = "Copy the whole database into one file, while people work on, and read it back."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", nargs="?", type=Path, help="the file to write, for example season.zip")
        parser.add_argument(
            "--into",
            type=Path,
            metavar="FOLDER",
            help=f"name it by the moment, and keep of those there one for each of the last {keeping.DAYS} days, "
            f"{keeping.WEEKS} weeks and {keeping.MONTHS} months",
        )

    def handle(self, *args: Any, file: Path | None, into: Path | None, **options: Any) -> None:
        if (file is None) == (into is None):
            raise CommandError("Say where: manage.py backup FILE, or manage.py backup --into FOLDER.")
        to = file or into / keeping.name_at(timezone.now())  # type: ignore[operator]
        with plain_words():
            to.parent.mkdir(parents=True, exist_ok=True)
            manifest = services.make(to)
            gone = keeping.tidy(into) if into else []
        rows = sum(number for number, _ in manifest["tables"].values())
        tables = count_noun(len(manifest["tables"]), "table")
        said = f"{to}: {count_noun(rows, 'row')} in {tables}, read back and the same."
        self.stdout.write(said + (f" {count_noun(len(gone), 'older one')} removed." if gone else ""))
