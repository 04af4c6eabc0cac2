"""Every workbook that the site gives out of the demo season, and LibreOffice under a locale of its own."""

from __future__ import annotations

import inspect
import subprocess
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from django.test import Client
from django.urls import resolve

from farmbuild.measure import UnitSystem
from farmbuild.planning.inputs import Season
from farmbuild.plans.services import create_plan, work_out_plan
from farmbuild.sites.models import House
from farmbuild.workbooks.project import project_template, write_project
from farmbuild.workbooks.services import XLSX
from tests.size import LONG
from tests.upgrades.addresses import addresses
from tests.walks import load


def gives_a_workbook(address: str) -> bool:
    view = resolve(address).func
    return ".xlsx" in address or "XLSX" in inspect.getsource(view)


def demo_exports(sign: str) -> dict[str, bytes]:
    """By the name of its address and a number: of one row, in the long run of the first and the last.

    Of a plan that is only tried too.
    """
    demo = load(decimal_sign=sign)
    assert demo.organisation.decimal_sign == sign
    house = House.objects.of(demo.organisation).order_by("pk").first()
    tried = create_plan(
        organisation=demo.organisation,
        user=demo.user,
        name="Tried",
        houses=[house],
        delivery_site=house.site,
        as_of=demo.plan.snapshot()[0].as_of + timedelta(days=1),
    ).plan
    work_out_plan(tried.pk)
    client = Client()
    client.force_login(demo.user)
    found: dict[str, bytes] = {}
    for name, wanted in addresses():
        for at, address in enumerate(filter(gives_a_workbook, reversed(wanted))):
            answer = client.get(address)
            if answer.headers["Content-Type"] == XLSX:
                found[f"{name.replace(':', '-')}-{at}"] = answer.content
                if not LONG:
                    break
    season: Season = demo.plan.snapshot()[0]
    found |= {f"project-template-{units}": project_template(units) for units in UnitSystem}
    return found | {"project": write_project(season)}


@dataclass(frozen=True)
class Office:
    """LibreOffice with a profile of its own in ``folder``, under ``locale`` (BCP 47: de-DE, en-US)."""

    folder: Path
    locale: str

    def __post_init__(self) -> None:
        settings = self.folder / "user" / "registrymodifications.xcu"
        settings.parent.mkdir(parents=True)
        settings.write_text(
            '<?xml version="1.0" encoding="UTF-8"?>\n'
            '<oor:items xmlns:oor="http://openoffice.org/2001/registry"'
            ' xmlns:xs="http://www.w3.org/2001/XMLSchema" xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">'
            '<item oor:path="/org.openoffice.Setup/L10N">'
            '<prop oor:name="ooSetupSystemLocale" oor:op="fuse">'
            f"<value>{self.locale}</value></prop></item></oor:items>\n"
        )

    def csv(self, files: Iterable[Path], out: Path, *, delimiter: str, as_shown: bool) -> None:
        """A file a sheet, named BOOK-SHEET.csv, in UTF-8; ``as_shown`` rounds as the cells do."""
        shown = "true" if as_shown else "false"
        # Delimiter, quotation mark, UTF-8, first row, two that are left out, and whether: all quoted, special numbers,
        # as shown, formulas, spaces removed; then every sheet.
        self._convert(
            f"csv:Text - txt - csv (StarCalc):{ord(delimiter)},34,76,1,,0,false,false,{shown},false,false,-1",
            files,
            out,
        )

    def xlsx(self, files: Iterable[Path], out: Path) -> None:
        self._convert("xlsx", files, out)

    def _convert(self, to: str, files: Iterable[Path], out: Path) -> None:
        profile = f"-env:UserInstallation={self.folder.as_uri()}"
        command = ["soffice", profile, "--headless", "--convert-to", to, "--outdir", str(out), *map(str, files)]
        subprocess.run(command, check=True, capture_output=True, timeout=300)
