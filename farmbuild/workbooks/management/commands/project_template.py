"""Write an empty project workbook."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from farmbuild.measure import UnitSystem
from farmbuild.workbooks.project import project_template
from farmbuild.workbooks.project_layout import SIGN_WORDS


class Command(BaseCommand):
    help = "Write an empty project workbook to fill in: your sites, houses, recipes, materials, prices and stock."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="Where to write it, for example season.xlsx.")
        parser.add_argument(
            "--units",
            choices=[units.value for units in UnitSystem],
            default=UnitSystem.IMPERIAL.value,
            help="imperial: feet and inches on Letter paper; metric: metres and millimetres on A4.",
        )
        parser.add_argument(
            "--decimal-sign", choices=list(SIGN_WORDS), default="", help="How decimals are typed in cells of text."
        )
        parser.add_argument("--overwrite", action="store_true", help="Replace the file when it is there.")

    def handle(self, *, file: Path, units: str, decimal_sign: str, overwrite: bool, **options: Any) -> None:
        if file.suffix.lower() != ".xlsx":
            raise CommandError(f"{file} has to end in .xlsx, for example season.xlsx.")
        try:
            with file.open("wb" if overwrite else "xb") as stream:
                stream.write(project_template(UnitSystem(units), decimal_sign=decimal_sign))
        except FileExistsError:
            raise CommandError(f"{file} is already there. Give another name, or add --overwrite.") from None
        except OSError as error:
            raise CommandError(f"{file} cannot be written: {error.strerror}.") from error
        self.stdout.write(f"Wrote {file}. Fill it in, then run: manage.py plan {file} --out FOLDER")
