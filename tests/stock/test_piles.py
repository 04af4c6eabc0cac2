"""How piles are drawn: to scale, one mark a piece, bounded, and never sticks added to screws."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal
from itertools import pairwise
from unittest.mock import patch

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from farmbuild.stock.models import Lot
from farmbuild.stock.piles.drawings import MAX_PIECES, MAX_SQUARES
from farmbuild.stock.piles.selectors import Coming
from farmbuild.stock.piles.words import coming_words
from tests.factories import FOOT, INCH, LotFactory, MaterialFactory, PlaceFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def rail(organisation):
    return MaterialFactory(organisation=organisation, code="rail", name="1-3/8 rail", swaged=True)


def html(client, **query):
    return client.get("/stock/", query).content.decode()


def strokes(page: str) -> dict[str, float]:
    """Sheet units of each length drawn, by the title of its drawing: strokes and bars alike."""
    found = {}
    for svg in re.findall(r"<svg.*?</svg>", page, re.S):
        title = re.search(r"<title[^>]*>(.*?)</title>", svg)[1]
        ends = [
            float(x)
            for pair in re.findall(r'class="stroke[^"]*" x1="([\d.]+)" y1="[-\d.]+" x2="([\d.]+)"', svg)
            for x in pair
        ]
        bar = re.search(r'class="cut-off" x="([\d.]+)" y="[-\d.]+" width="([\d.]+)"', svg)
        found[title] = max(ends) - min(ends) if ends else float(bar[2])
    return found


def test_every_length_is_on_one_scale_and_film_on_its_own(signed_in, rail):
    board = MaterialFactory(organisation=rail.organisation, kind="lumber", name="2x6", width=140, thickness=38)
    film = MaterialFactory(organisation=rail.organisation, kind="film", name="Film")
    lengths = {FOOT * 21: rail, FOOT * 10: rail, FOOT * 16: board}
    for length, material in lengths.items():
        LotFactory(material=material, length=length, on_hand=3)
    LotFactory(material=rail, length=INCH * Decimal("87.5"), offcut=True, on_hand=2)
    LotFactory(material=film, length=FOOT * 100, on_hand=1)
    LotFactory(material=film, length=FOOT * 25, on_hand=1, offcut=True)
    found = strokes(html(signed_in))
    per_mm = {
        title: units / float(Decimal(re.search(r"\(([\d\u202f]+) mm\)", title)[1].replace("\u202f", "")))
        for title, units in found.items()
    }
    sticks = {title: value for title, value in per_mm.items() if not title.startswith("Film")}
    assert len(sticks) == 4 and len(per_mm) == 6
    # Half a unit at most, which is about half a pixel on a phone: lengths are said to whole millimetres.
    for group in (sticks, {title: value for title, value in per_mm.items() if title.startswith("Film")}):
        assert max(group.values()) == pytest.approx(min(group.values()), rel=0.003)
    assert max(found.values()) == pytest.approx(300, abs=0.1)


def test_marks_are_told_by_what_they_are(signed_in, rail):
    organisation = rail.organisation
    LotFactory(material=rail, on_hand=38)
    LotFactory(material=MaterialFactory(organisation=organisation, kind="lumber", name="2x4"), on_hand=9)
    LotFactory(material=MaterialFactory(organisation=organisation, kind="channel", name="Channel"), on_hand=7)
    LotFactory(
        material=MaterialFactory(organisation=organisation, kind="fastener", name="Screw"), length=None, on_hand=1885
    )
    page = html(signed_in)
    assert page.count('<circle class="end free"') == 38
    assert page.count('<rect class="end free"') == 9
    assert page.count('<polyline class="end free"') == 7
    assert "1,885" in page and page.count("<svg") == 3
    # Fives with a gap between, twenty a row.
    across = [float(x) for x in re.findall(r'<circle class="end free" cx="([\d.]+)"', page)]
    steps = [round(b - a, 1) for a, b in pairwise(across[:20])]
    assert steps == [15, 15, 15, 15, 23] * 3 + [15] * 4
    assert across[20] < across[19]


@pytest.mark.parametrize(("pieces", "ends", "squares"), [(300, 300, 0), (301, 1, 3), (4000, 0, 40), (10_000, 0, 40)])
def test_a_large_pile_is_squares_of_a_hundred_and_words(signed_in, rail, pieces, ends, squares):
    LotFactory(material=rail, on_hand=pieces)
    page = html(signed_in)
    assert (page.count('class="end free"'), page.count('class="hundred free"')) == (ends, squares)
    assert ("A square: a hundred" in text_of(signed_in.get("/stock/"))) is bool(squares)
    assert ("and 6,000 more" in page) is (pieces == 10_000)
    assert len(page) < 60_000
    assert (MAX_PIECES, MAX_SQUARES) == (300, 40)


def fill(organisation, numbers, lengths):
    """A material for each number, with that many lengths of two pieces; from the fifth on they are offcuts."""
    place = PlaceFactory(organisation=organisation)
    for number in numbers:
        material = MaterialFactory(organisation=organisation, name=f"Pipe {number}", code=f"pipe-{number}")
        Lot.objects.bulk_create(
            Lot(
                organisation=organisation,
                material=material,
                place=place,
                reference=f"{number}-{at}",
                length=FOOT * 2 + INCH * at,
                offcut=at > 3,
                received_on=date(2027, 1, 1),
                on_hand=2,
            )
            for at in range(lengths)
        )


def test_many_lengths_and_materials_are_bounded_and_none_is_left_out(signed_in, organisation):
    fill(organisation, range(100, 102), 2)
    with CaptureQueriesContext(connection) as few:
        html(signed_in)
    fill(organisation, range(102, 160), 170)
    with CaptureQueriesContext(connection) as many:
        page = html(signed_in)
    assert len(many) == len(few)
    assert len(page) < 250_000
    assert "and 163 shorter lengths: 326 offcuts" in page
    found = [name for at in (1, 2, 3) for name in re.findall(r"(Pipe \d{3})</a></h2>", html(signed_in, piles=at))]
    assert sorted(found) == [f"Pipe {number}" for number in range(100, 160)]
    # A material alone shows more of its lengths.
    assert "and 126 shorter lengths: 252 offcuts" in html(signed_in, material="pipe-110")


def test_sticks_are_never_added_to_screws(signed_in, rail):
    LotFactory(material=rail, on_hand=38)
    LotFactory(material=rail, on_hand=2)
    alike = text_of(signed_in.get("/stock/"))
    foot = alike[alike.index("<tfoot") :]
    assert "<div>40</div>" in foot
    screw = MaterialFactory(organisation=rail.organisation, kind="fastener", name="Screw")
    LotFactory(material=screw, length=None, on_hand=180)
    unlike = text_of(signed_in.get("/stock/"))
    foot = unlike[unlike.index("<tfoot") :]
    # The words alone: a key or a token of the page may have the figure in it.
    assert "220" not in re.sub(r"<[^>]*>", " ", unlike) and "<div>40</div>" not in foot
    assert "40 sticks in stock: all free." in unlike
    assert "40 sticks and 180 fasteners" in unlike


def test_an_empty_lot_and_a_lot_of_screws_have_no_drawing(signed_in, rail):
    empty = LotFactory(material=rail, on_hand=0)
    screw = LotFactory(
        material=MaterialFactory(organisation=rail.organisation, kind="fastener"), length=None, on_hand=180
    )
    full = LotFactory(material=rail, on_hand=6)
    for lot, svgs in ((empty, 0), (screw, 0), (full, 1)):
        assert signed_in.get(f"/stock/lots/{lot.pk}/").content.decode().count('class="end') == svgs * 6
    only_empty = {"empty": "on", "place": empty.place_id}
    assert "All of these lots are empty" in text_of(signed_in.get("/stock/", only_empty))


@pytest.mark.parametrize(
    ("due", "more", "words"),
    [
        (date(2027, 3, 9), False, "12 on order, due 9 March"),
        (date(2027, 3, 8), False, "12 on order, due 8 March"),
        (date(2027, 3, 7), False, "12 on order, was due 7 March"),
        (date(2028, 1, 2), True, "12 on order, the first due 2 January 2028"),
        (date(2026, 12, 30), True, "12 on order, the first was due 30 December 2026"),
    ],
)
def test_what_is_to_come_says_when_and_whether_that_day_has_passed(due, more, words):
    with patch("farmbuild.stock.piles.words.today", return_value=date(2027, 3, 8)):
        assert coming_words(Coming(1, FOOT * 10, 12, due, more)) == words


def test_a_single_length_more_is_drawn_and_not_counted(signed_in, rail):
    LotFactory(material=MaterialFactory(organisation=rail.organisation), on_hand=1)
    for at in range(4):
        LotFactory(material=rail, length=INCH * (10 + at), offcut=True, on_hand=1)
    assert html(signed_in).count('class="cut-off"') == 4 and "shorter length" not in html(signed_in)
    LotFactory(material=rail, length=INCH * 9, offcut=True, on_hand=7)
    page = html(signed_in)
    assert page.count('class="cut-off"') == 3 and "and 2 shorter lengths: 8 offcuts" in page
