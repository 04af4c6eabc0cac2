"""The cut plan as strips: to one scale, a box a stick, by material and by house."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import replace
from decimal import Decimal
from html import unescape
from itertools import pairwise

import pytest

from farmbuild.common.strips import MARK, PIECE, STEPS, At, Part, breadth, strip
from farmbuild.plans import bridge, cut_bundles, cut_strips
from farmbuild.plans.cut_bundles import MAX_TICKS
from tests.factories import MembershipFactory
from tests.reading import text_of
from tests.where import ROOT

pytestmark = pytest.mark.django_db
INCH = Decimal("25.4")


def rects(svg: str) -> list[tuple[str, Decimal, Decimal]]:
    found = re.findall(r'<rect class="(\w+)" x="([\d.]+)%" width="([\d.]+)%"', svg)
    return [(css, Decimal(x), Decimal(wide)) for css, x, wide in found]


@pytest.fixture
def snapshot(ready):
    return ready.snapshot()


@pytest.fixture
def strips(snapshot):
    season, plan = snapshot
    return cut_strips.by_material(cut_bundles.bundles_of(season, plan), "imperial")


def test_pieces_saw_cuts_and_offcuts_are_drawn_to_the_scale_of_their_material(snapshot, strips):
    _, plan = snapshot
    longest = cut_bundles.longest_sticks(plan)
    kerfs = {summary.material: summary.kerf for summary in plan.cut_summaries}
    seen = Counter()
    for each in strips:
        bundle = each.bundle
        full = longest[bundle.material.code]
        drawn = [(css, x * full / 100, wide * full / 100) for css, x, wide in rects(each.svg("s1", full))]
        # A ten-thousandth of a percent of the longest stick.
        near = full / 500_000
        wanted = [cut.length for cut in bundle.cuts] if not bundle.uncut else [bundle.stick_length]
        pieces = [row for row in drawn if row[0] == "cut"]
        assert len(pieces) == len(wanted)
        for (_, _, wide), length in zip(pieces, wanted, strict=True):
            assert abs(wide - length) <= near
        for (_, x, wide), (_, after, _) in pairwise(pieces):
            assert abs(after - x - wide - kerfs[bundle.material.code]) <= 2 * near
            seen["saw cut"] += 1
        ends = [row for row in drawn if row[0] in ("end", "scrap")]
        assert len(ends) == bool(bundle.remainder)
        for css, x, wide in ends:
            assert css == ("end" if bundle.kept else "scrap")
            assert abs(x + wide - bundle.stick_length) <= 2 * near
            # Pieces, saw cuts and offcut add up to the stick.
            last = pieces[-1][1] + pieces[-1][2]
            assert 0 <= x - last - kerfs[bundle.material.code] + near * 4 <= near * 8
            seen["offcut"] += 1
    assert seen["saw cut"] and seen["offcut"]


def test_there_is_a_box_for_each_stick_and_beyond_twenty_they_stand_by_house(signed_in, ready, strips):
    page = signed_in.get("/plans/1/cutting/").content.decode()
    for each, html in zip(strips, page.split('<section class="cut-strip')[1:], strict=True):
        ticks = re.findall(r'data-tick="([^"]*)"', html.split("</section>")[0])
        assert len(ticks) == len(set(ticks)) == each.times
        at_the_right = html.count('aria-label="Stick') if each.boxes else 0
        assert at_the_right == (each.times if each.times <= MAX_TICKS else 0)
    assert sum(each.times for each in strips) == sum(layout.times for layout in ready.snapshot()[1].layouts)


def test_too_many_sticks_are_counted_in_words_on_paper(snapshot):
    season, plan = snapshot
    layout = replace(plan.layouts[0], times=MAX_TICKS + 1)
    (each,) = cut_strips.by_material(cut_bundles.bundles_of(season, replace(plan, layouts=(layout,))), "imperial")
    assert each.boxes == []
    assert each.times == MAX_TICKS + 1


def test_by_house_every_piece_of_the_house_is_shaded_and_none_is_lost(snapshot):
    season, plan = snapshot
    bundles, houses = cut_bundles.bundles_of(season, plan), bridge.house_names(season)
    longest = cut_bundles.longest_sticks(plan)
    drawn = Counter()
    for each in cut_strips.by_house(bundles, houses, "imperial"):
        svg = each.svg("s1", longest[each.bundle.material.code])
        drawn[each.heading] += each.times * svg.count('<rect class="cut"')
    planned = Counter()
    for layout in plan.layouts:
        for piece in layout.pieces:
            planned[houses[piece.house]] += layout.times
    assert drawn == planned


def test_a_house_or_a_material_is_chosen_by_a_link(signed_in, ready):
    whole = signed_in.get("/plans/1/cutting/?by=house")
    links = re.findall(r'href="\?house=([^"]*)"', whole.content.decode())
    assert links == list(bridge.house_names(ready.snapshot()[0]))
    heads = re.findall(r"<h2>([^<]*)</h2>", text_of(signed_in.get(f"/plans/1/cutting/?house={links[0]}")))
    assert heads[0] == bridge.house_names(ready.snapshot()[0])[links[0]]
    for other in links[1:]:
        assert bridge.house_names(ready.snapshot()[0])[other] not in heads
    # An unknown one of either shows all.
    for query in ("house=nowhere", "by=what", "material=nothing", "by=house&page=99"):
        assert signed_in.get(f"/plans/1/cutting/?{query}").status_code == 200


def test_reading_by_house_asks_the_database_no_more(signed_in, ready, django_assert_max_num_queries):
    with django_assert_max_num_queries(40) as plain:
        signed_in.get("/plans/1/cutting/")
    with django_assert_max_num_queries(len(plain.captured_queries)):
        signed_in.get("/plans/1/cutting/?by=house")


def test_nobody_of_another_organisation_sees_them(client, ready):
    client.force_login(MembershipFactory().user)
    assert client.get("/plans/1/cutting/?by=house").status_code == 404


def test_words_beside_a_strip_have_all_that_a_narrow_one_leaves_out(strips):
    for each in strips:
        svg = unescape(each.svg("s1", each.bundle.stick_length))
        for cut in each.bundle.cuts:
            assert each._say(cut.length) in svg
        if not each.bundle.uncut:
            assert all(each._say(cut.length) in each.pieces for cut in each.bundle.cuts)


def test_no_two_marks_touch_at_any_width():
    marks = [At(Decimal(at) * INCH, f"{at}' 11 15/16\"") for at in (1, 3, 4, 40, 41, 80, 83, 99)]
    full = 100 * INCH
    svg = strip("k", [Part(Decimal(0), full, "whole")], marks, full, "t", "d")
    found = re.findall(r'<text class="at from-(\d+)" x="([\d.]+)%" y="[^"]*">([^<]*)<', svg)
    assert len(found) >= 3
    for width in STEPS:
        shown = [
            (float(x) / 100 * width, breadth(unescape(said), MARK)) for step, x, said in found if int(step) <= width
        ]
        for (left, wide), (right, other) in pairwise(shown):
            assert right - left >= (wide + other) / 2


def test_a_length_stands_in_a_piece_only_where_it_fits():
    svg = strip("k", [Part(Decimal(0), INCH, '1"'), Part(INCH, 199 * INCH, "16' 7\"")], [], 200 * INCH, "t", "d")
    (long,) = re.findall(r'<text class="from-(\d+)" x="[^"]*" y="[^"]*">([^<]*)<', svg)
    assert unescape(long[1]) == "16' 7\""
    assert int(long[0]) >= breadth("16' 7\"", PIECE)


def test_the_style_sheet_knows_every_width():
    css = (ROOT / "farmbuild/common/static/farmbuild/strips.css").read_text(encoding="utf-8")
    found = re.findall(r"min-width: (\d+)rem\) {\s+\.strip text\.from-(\d+) {\s+display: inline;", css)
    assert found == [(str(step), str(step)) for step in STEPS]
