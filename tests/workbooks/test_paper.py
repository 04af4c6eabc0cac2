"""Every workbook that is written prints on the paper of the country: A4 with metres, Letter with feet and inches."""

from __future__ import annotations

import ast
import io
from collections.abc import Callable
from datetime import date
from decimal import Decimal

import pytest
from openpyxl import load_workbook

from farmbuild.catalogue.lists.export import xlsx
from farmbuild.coop.joint.split_files import SheetRow, SplitSheet, split_workbook
from farmbuild.coop.statement.files import all_workbook
from farmbuild.history.exports import xlsx as history_xlsx
from farmbuild.measure import UnitSystem
from farmbuild.orgs.models import Organisation
from farmbuild.planning.pricing.offered import Offered, OfferedOption, OfferedPart
from farmbuild.quotes.against.files import against_workbook
from farmbuild.quotes.bills.frozen import bill_workbook
from farmbuild.stock.counts.workbooks import count_workbook
from farmbuild.stock.files import xlsx_template
from farmbuild.stock.models import Place, StockCount
from farmbuild.workbooks.changes import change_workbook
from farmbuild.workbooks.cut_lists import cut_list_workbook
from farmbuild.workbooks.handing import handing_workbook
from farmbuild.workbooks.hours import hours_workbook
from farmbuild.workbooks.leftovers import leftovers_workbook
from farmbuild.workbooks.orders import order_workbook
from farmbuild.workbooks.project import project_template, write_project
from farmbuild.workbooks.quotes import quote_workbook
from farmbuild.workbooks.season_end import season_end_workbook
from farmbuild.workbooks.services import plan_files
from farmbuild.workbooks.takeoffs import takeoff_workbook
from tests.factories import OfferFactory
from tests.where import ROOT
from tests.workbooks.books import small_plan, small_season

#: As ECMA-376 part 1, 18.3.1.63 numbers them.
PAPER = {UnitSystem.IMPERIAL: 1, UnitSystem.METRIC: 9}
DAY = date(2027, 2, 1)


def _order(units: UnitSystem) -> bytes:
    season, order = small_season(units), small_plan(units).orders[0]
    return order_workbook(
        order=order,
        number="PO-1",
        buyer=season.buyer,
        supplier=next(row for row in season.suppliers if row.code == order.supplier),
        site=season.sites[0],
        order_date=DAY,
        materials={row.code: row for row in season.materials},
    )


def _planned(writer: Callable[..., bytes]) -> Callable[[UnitSystem], bytes]:
    return lambda units: writer(season=small_season(units), plan=small_plan(units))


def _told(writer: Callable[..., bytes], **more: object) -> Callable[[UnitSystem], bytes]:
    return lambda units: writer(lines=[], day=DAY, author="Made-up Growers", units=units, **more)


def _history(units: UnitSystem) -> bytes:
    return history_xlsx([], Organisation(name="Made-up Growers", unit_system=units), costs=True, today=DAY)


def _bill(units: UnitSystem) -> bytes:
    amounts = dict.fromkeys(
        ["billed", "kept", "tax", "due", "contract", "billed_before", "open_after", "kept_after"], "0"
    )
    words = dict.fromkeys(["what", "reason", "job", "percent"], "")
    head = {"title": "Bill B-0001", "sender": ["Made-up Growers"], "to": ["Made-up Farm"], "parts": [], "units": units}
    days = {"day": "2027-02-01", "due_on": "2027-03-01"}
    return bill_workbook({**head, **days, **words, **amounts, "currency": "EUR", "tax_name": "Tax"})


def _against(units: UnitSystem) -> bytes:
    head = {"title": "Cost of J-0001", "told": "All of it.", "day": DAY, "author": "Made-up Growers", "currency": "EUR"}
    return against_workbook(**head, units=units, quoted=Decimal(0), causes=(), sums=(), lines=(), places=())


def _statements(units: UnitSystem) -> bytes:
    balances = dict.fromkeys(["opening", "closing"], "0")
    head = {"number": "", "sender": ["Made-up Growers"], "to": ["Made-up Farm"], "parts": [], "after": ""}
    days = {"first": "2027-01-01", "last": "2027-02-01"}
    return all_workbook("Accounts", [{**head, **days, **balances, "currency": "EUR", "units": units}])


def _split(units: UnitSystem) -> bytes:
    row = SheetRow("Made-up Farm", [(5, 4)], Decimal(10), Decimal(2), Decimal(1), Decimal(13), Decimal(15))
    sheet = SplitSheet("Joint order 1", "Made-up Growers", DAY, "EUR", "Tax", units, ["Rail"], [row], "To the cent.")
    return split_workbook(sheet)


def _quote(units: UnitSystem) -> bytes:
    parts = (OfferedPart("Materials", Decimal(10), Decimal(5), Decimal("0.5")),)
    option = OfferedOption(1, "As it is", (), (), (), parts, Decimal(10), Decimal("0.5"), Decimal("10.5"))
    return quote_workbook(
        Offered("Quote Q-0001", "Made-up Growers", ("Made-up Farm",), "Two houses", DAY, DAY, "EUR", units.value, "",
                (option,), (), ())
    )  # fmt: skip


#: By the module that makes the workbook.
WRITERS: dict[str, Callable[[UnitSystem], bytes]] = {
    "workbooks/takeoffs.py": _planned(takeoff_workbook),
    "workbooks/cut_lists.py": _planned(cut_list_workbook),
    "workbooks/leftovers.py": _planned(leftovers_workbook),
    "workbooks/orders.py": _order,
    "workbooks/project_write.py": lambda units: write_project(small_season(units)),
    "workbooks/season_end.py": _told(season_end_workbook, told="All of it.", currency="EUR"),
    "workbooks/hours.py": _told(hours_workbook, told="All of them."),
    "workbooks/handing.py": _told(handing_workbook, told="All of them.", title="Handing out"),
    "history/exports.py": _history,
    "quotes/bills/frozen.py": _bill,
    "quotes/against/files.py": _against,
    "coop/joint/split_files.py": _split,
    "coop/statement/files.py": _statements,
    "workbooks/quotes.py": _quote,
    "workbooks/changes.py": _told(change_workbook, title="Changes", currency="EUR"),
}
#: Those that need rows of an organisation.
OF_ROWS = {"catalogue/lists/export.py", "stock/files.py", "stock/counts/workbooks.py"}


def papers(data: bytes) -> set[int]:
    """Of all sheets that a reader sees."""
    book = load_workbook(io.BytesIO(data))
    return {int(page.page_setup.paperSize) for page in book if page.sheet_state == "visible"}


@pytest.mark.parametrize("units", list(UnitSystem))
@pytest.mark.parametrize("writer", WRITERS)
def test_the_paper_follows_the_units(writer: str, units: UnitSystem) -> None:
    assert papers(WRITERS[writer](units)) == {PAPER[units]}


@pytest.mark.parametrize("units", list(UnitSystem))
def test_so_does_that_of_the_template_and_of_all_files_of_a_plan(units: UnitSystem) -> None:
    assert papers(project_template(units)) == {PAPER[units]}
    files = plan_files(season=small_season(units), plan=small_plan(units), number_prefix="20270201")
    books = [data for name, data in files if name.endswith(".xlsx")]
    assert len(books) > 4
    assert all(papers(data) == {PAPER[units]} for data in books)


@pytest.mark.django_db
@pytest.mark.parametrize("units", list(UnitSystem))
def test_so_does_that_of_stock_lists_count_sheets_and_prices(organisation, user, units: UnitSystem) -> None:
    organisation.unit_system = units
    organisation.save()
    assert papers(xlsx_template(organisation=organisation, today=DAY)) == {PAPER[units]}
    Place.objects.create(organisation=organisation, name="Rack 1")
    count = StockCount.objects.create(organisation=organisation, number=1, started_by=user)
    assert papers(count_workbook(count=count)) == {PAPER[units]}
    offer = OfferFactory(supplier__organisation=organisation)
    assert papers(xlsx(organisation=organisation, supplier=offer.supplier, today=DAY, every=True)) == {PAPER[units]}


def test_no_workbook_is_written_that_is_not_named_here() -> None:
    """Whoever begins a ``Book`` to write it gives it a title; one to read has none."""
    made = set()
    for path in (ROOT / "farmbuild").rglob("*.py"):
        calls = (node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.Call))
        begun = (call for call in calls if ast.unparse(call.func).split(".")[-1] == "Book")
        if any(word.arg == "title" for call in begun for word in call.keywords):
            made.add(path.relative_to(ROOT / "farmbuild").as_posix())
    assert made == set(WRITERS) | OF_ROWS
