"""Plan the season of a filled project workbook, with no web server and no database."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from farmbuild.measure import POINT, activate_style, use_style
from farmbuild.planning.inputs import Season
from farmbuild.planning.results import SeasonPlan
from farmbuild.planning.season.plan import SeasonError, plan_season
from farmbuild.workbooks.folders import FolderError, check_folder, write_folder
from farmbuild.workbooks.progress import Progress
from farmbuild.workbooks.project import ProjectProblems, read_project
from farmbuild.workbooks.reading import WorkbookError
from farmbuild.workbooks.services import PlanFile, count_plan_files, plan_files
from farmbuild.workbooks.summary import cautions, summary


class Command(BaseCommand):
    help = (
        "Read a filled project workbook and write the order to each supplier, the cut list, the take-off, "
        "the leftovers, and plan.json."
    )
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, help="The filled project workbook.")
        parser.add_argument("--out", type=Path, required=True, metavar="FOLDER", help="Folder for what is written.")
        parser.add_argument(
            "--overwrite",
            action="store_true",
            help="Put a new folder in the place of one that holds files; the old one is kept beside it.",
        )

    def handle(self, *, file: Path, out: Path, overwrite: bool, **options: Any) -> None:
        with use_style(POINT):
            self._plan(file, out, overwrite=overwrite)

    def _plan(self, file: Path, out: Path, *, overwrite: bool) -> None:
        names: list[str] = []
        try:
            check_folder(out, overwrite=overwrite)
            with Progress(self.stderr._out) as progress:
                season = self._read(file, progress)
                activate_style(season.buyer.style)
                plan = plan_season(season, progress=progress)
                files = self._files(season, plan, progress, names)
                kept = write_folder(out, files, overwrite=overwrite)
        except (FolderError, WorkbookError) as error:
            raise CommandError(str(error)) from error
        except SeasonError as error:
            raise CommandError("\n".join([*error.reasons, "Nothing was written."])) from error
        except OSError as error:
            raise CommandError(f"{error.filename or out}: {error.strerror}. Nothing was written.") from error
        self.stdout.write(summary(season, plan))
        self.stdout.write(f"Numbers typed as text were read with a decimal {season.buyer.style.name}.")
        self.stdout.write(f"Wrote {len(names)} files to {out}:")
        for name in names:
            self.stdout.write(f"  {name}")
        if kept:
            self.stdout.write(f"What was there before is kept in {kept}.")
        for caution in cautions(season, plan):
            self.stderr.write(caution)

    def _read(self, file: Path, progress: Progress) -> Season:
        try:
            data = file.read_bytes()
        except FileNotFoundError:
            raise CommandError(f"There is no file {file}.") from None
        except OSError as error:
            raise CommandError(f"{file} cannot be read: {error.strerror}.") from error
        try:
            return read_project(data, file.name, progress=progress)
        except ProjectProblems as error:
            count = len(error.problems)
            things = "1 thing" if count == 1 else f"{count} things"
            lines = [f"{file} has {things} to correct. Nothing was written."]
            raise CommandError("\n".join([*lines, *(f"  {p}" for p in error.problems)])) from error

    def _files(self, season: Season, plan: SeasonPlan, progress: Progress, names: list[str]) -> Iterator[PlanFile]:
        total = count_plan_files(plan)
        for done, file in enumerate(plan_files(season, plan, number_prefix=f"{season.as_of:%Y%m%d}"), 1):
            names.append(file.name)
            progress(done, total, f"Writing {file.name}")
            yield file
