"""Whatever a name is made of, it is a name: on pages, in PDF, workbooks, calendars, DXF, text files and on labels.

What forms and workbooks take no more (line ends, letters turned round) may stand in rows from before, so it is put
there past them. Every file is read back by a library that knows its kind.
"""

from __future__ import annotations

import csv
import io
import subprocess
from datetime import timedelta
from html.parser import HTMLParser

import ezdxf
import pytest
from django.apps import apps
from django.test import Client
from icalendar import Calendar
from openpyxl import load_workbook

from farmbuild.buying.forms import SendForm
from farmbuild.crew import feeds
from farmbuild.crew.models import Person
from farmbuild.hoops.benders.models import Bender
from farmbuild.measure import one_line
from farmbuild.plans.services import create_plan, work_out_plan
from farmbuild.sites.models import House
from farmbuild.workbooks.reading import read_table
from tests.size import LONG
from tests.upgrades.addresses import addresses
from tests.walks import Answer, load

#: Of a spreadsheet, of a page, of typst, of a calendar; then a tab, line ends, a letter that turns the rest round, one
#: that XML cannot carry, and one beyond the basic plane.
HOSTILE = "=1+1<script>bad</script>#panic[a]$_*`\\@\t;,\"'&amp;{{ 7 }}\r\nBEGIN:VEVENT\r\u202e\x01\U0001f331"
ONE_LINE = one_line(HOSTILE)
STARTS = ("", "+", "-", "@", "\t=")
NAMED = (
    *("sites.Site", "sites.House", "catalogue.Material", "catalogue.Supplier", "hoops.Recipe", "hoops.Bender"),
    *("crew.Person", "crew.Crew", "crew.Member", "crew.Skill", "crew.WorkTemplate", "stock.Place", "plans.Plan"),
)


def rename() -> None:
    for label in NAMED:
        model = apps.get_model(label)
        for at, row in enumerate(model.objects.order_by("pk")):
            name = f"{STARTS[at % len(STARTS)]}{HOSTILE}{at}"
            # The longest that the form takes, of every second one.
            most = model._meta.get_field("name").max_length
            model.objects.filter(pk=row.pk).update(name=(name.ljust(most, "W") if at % 2 else name)[:most])


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.inside, self.wrong = "", []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.inside = tag
        if tag == "script" and "src" not in dict(attrs) and dict(attrs).get("type") != "application/json":
            self.wrong.append(attrs)

    def handle_data(self, data: str) -> None:
        if self.inside == "script" and "bad" in data.split():
            self.wrong.append(data)


def wrong_page(body: bytes) -> object:
    parser = _Tags()
    parser.feed(body.decode())
    return parser.wrong


def wrong_workbook(body: bytes) -> object:
    """A formula of ours has no such sum in it."""
    book = load_workbook(io.BytesIO(body))
    cells = (cell for sheet in book for row in sheet.iter_rows() for cell in row)
    return [cell.coordinate for cell in cells if cell.data_type == "f" and "1+1" in str(cell.value)]


def wrong_calendar(body: bytes) -> object:
    calendar = Calendar.from_ical(body)
    events = calendar.walk("VEVENT")
    lines = body.split(b"\r\n")
    loose = [line for line in lines if b"\n" in line or b"\r" in line or len(line) > 75]
    broken = [str(event["summary"]) for event in events if not str(event["summary"]).isprintable()]
    if lines.count(b"BEGIN:VEVENT") != len(events):
        return "an event that nobody made"
    return loose or broken or [event for event in events if event.errors]


def wrong_dxf(body: bytes) -> object:
    drawing = ezdxf.read(io.StringIO(body.decode("utf-8")))
    return drawing.audit().errors


def wrong_pdf(body: bytes) -> object:
    done = subprocess.run(["pdftotext", "-", "-"], input=body, capture_output=True)
    return done.stderr.decode() if done.returncode or b"Error" in done.stderr else ""


def wrong_text(body: bytes) -> object:
    rows = csv.reader(io.StringIO(body.decode("utf-8-sig")))
    return [cell for row in rows for cell in row if cell.startswith(("=1", "+=1", "-=1", "@=1", "\t="))]


READERS = {
    "text/html": wrong_page,
    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet": wrong_workbook,
    "text/calendar": wrong_calendar,
    "image/vnd.dxf": wrong_dxf,
    "application/pdf": wrong_pdf,
    "text/csv": wrong_text,
}


@pytest.mark.django_db
def test_a_name_is_a_name_everywhere():
    demo = load()
    rename()
    house = House.objects.of(demo.organisation).order_by("pk").first()
    tried = create_plan(
        organisation=demo.organisation,
        user=demo.user,
        name=HOSTILE,
        houses=[house],
        delivery_site=house.site,
        as_of=demo.plan.snapshot()[0].as_of + timedelta(days=1),
    ).plan
    work_out_plan(tried.pk)
    client = Client(raise_request_exception=False)
    client.force_login(demo.user)
    whose = {"organisation": demo.organisation, "user": demo.user}
    calendars = [feeds.make_feed(**whose, person=row) for row in Person.objects.of(demo.organisation)]
    calendars += [feeds.make_feed(**whose, bender=row) for row in Bender.objects.of(demo.organisation)]
    # All rows of a kind are called so, and have all they show from the same templates.
    wanted = [path for _, found in addresses() for path in (found if LONG else found[-1:])]
    wanted += [feed.get_absolute_url() for feed in calendars]
    wrong, read = {}, set()
    for path in wanted:
        answer = client.get(path)
        if answer.status_code >= 500:
            wrong[path] = repr(answer.exc_info and answer.exc_info[1])
            continue
        got = Answer.of(answer)
        if got.status == 200 and (reader := READERS.get(got.kind)):
            read.add(got.kind)
            try:
                if found := reader(got.body):
                    wrong[path] = found
            except Exception as error:
                wrong[path] = repr(error)
    assert not wrong, "\n".join(f"{path}: {str(found)[:300]}" for path, found in wrong.items())
    assert read >= {*READERS} - {"image/vnd.dxf", "text/csv"}, read


def test_one_line_is_one_line_in_the_order_it_is_read():
    assert ONE_LINE.isprintable()
    assert one_line("Ford\r\nand\u2028Sons \u202edne") == "Ford and Sons dne"
    assert one_line("Müller & Söhne, ½ in") == "Müller & Söhne, ½ in"


@pytest.mark.django_db
def test_words_under_a_box_are_words(organisation):
    """They may name a house."""
    form = SendForm(organisation=organisation, changed=["<script>bad</script>"])
    assert "&lt;script&gt;" in str(form) and "<script>" not in str(form)


def test_a_text_that_is_kept_from_being_a_formula_is_read_back_without_the_sign():
    text = "Material,Quantity\n'=1+1,1\n'quoted',2\n"
    table = read_table(
        text.encode(), "a.csv", headings={"material": ("Material",), "quantity": ("Quantity",)}, required=["material"]
    )
    assert [(row["material"].text, row["material"].formula) for row in table.rows] == [
        ("=1+1", False),
        ("'quoted'", False),
    ]
