"""``manage.py restore``: a backup brought back where nothing is yet."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from farmbuild.common.backups import services
from farmbuild.common.serving import plain_words
from farmbuild.measure import count_noun


class Command(BaseCommand):
    help = "Bring a backup back where no database is yet, and compare every row of it."
    # The place is empty: there is nothing to check yet.
    requires_migrations_checks = False
    requires_system_checks: list = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, file: Path, **options: Any) -> None:
        with plain_words():
            manifest = services.restore(file)
        rows = sum(number for number, _ in manifest["tables"].values())
        self.stdout.write(
            f"Brought back as of {manifest['made']}: {count_noun(rows, 'row')} in"
            f" {count_noun(len(manifest['tables']), 'table')}, every one the same. Next: manage.py migrate."
        )
