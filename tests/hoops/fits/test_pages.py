"""The fit of a house on its pages: the answer, the form and what it refuses, whose rows it shows."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.optimize import linprog

from farmbuild.hoops.fits.models import HouseFit
from farmbuild.hoops.fits.presenters import fit_page, hoop_numbers
from farmbuild.hoops.fits.rows import Reading
from farmbuild.hoops.fits.services import save_fit
from farmbuild.measure import Unit, parse_length
from tests.factories import HouseFactory, MembershipFactory, OrganisationFactory, SiteFactory
from tests.hoops.fits.posting import row, sent, text_of
from tests.size import examples

FOOT, INCH = Decimal("304.8"), Decimal("25.4")
LEVEL = dict.fromkeys(range(1, 14), "7' 4\"")
UNEVEN = LEVEL | {4: "7' 2 1/2\"", 7: "7' 5 3/4\"", 10: "7' 3\"", 11: "89"}


def address(house, name: str = "fit-latest") -> str:
    return reverse(f"hoops:{name}", args=[house.slug])


def save(client, house, data):
    return client.post(address(house, "fit-measure"), data)


def scipy_total(heights: dict[int, str], *, bay: Decimal, tolerance: float, room: float, slope: float | None) -> float:
    """The least total of moves by scipy, in mm, from what was typed."""
    places = np.array([(hoop - 1) * float(bay) for hoop in heights])
    typed = np.array([float(parse_length(text, Unit.INCH)) for text in heights.values()])
    n = len(typed)
    eye = np.eye(n)
    # Ups, downs, start of the line, its slope.
    rows = np.hstack([eye, -eye, -np.ones((n, 1)), -places[:, None]])
    bounds = [(0, room)] * (2 * n) + [(None, None), (slope, slope) if slope is not None else (None, None)]
    cost = np.concatenate([np.ones(2 * n), np.zeros(2)])
    right = np.concatenate([tolerance - typed, tolerance + typed])
    return linprog(cost, A_ub=np.vstack([rows, -rows]), b_ub=right, bounds=bounds).fun


@pytest.mark.parametrize(
    ("line", "rise", "slope"),
    [
        ("level", "", 0.0),
        ("rising", '6"', 6 / (48 * 12)),
        ("falling", '3"', -3 / (48 * 12)),
        ("any", "", None),
    ],
)
def test_the_answer_is_scipys(signed_in, house, line, rise, slope):
    assert save(signed_in, house, sent(UNEVEN, line=line, rise=rise, room_down="6", room_up="6")).status_code == 302
    sheet = signed_in.get(address(house)).context["page"]
    kept = sheet.fit.slope
    assert (kept is None) is (slope is None)
    if slope is not None:
        # To five places: at most 0.07 mm over 48 ft.
        assert float(kept) == pytest.approx(slope, abs=5.1e-6)
        slope = float(kept)
    least = scipy_total(UNEVEN, bay=FOOT * 4, tolerance=12.7, room=152.4, slope=slope)
    assert sheet.sight.exact_total == pytest.approx(least, abs=1e-3)
    assert not sheet.stays
    assert least - 1e-3 <= float(sheet.total) <= least + 13 * 1.5875
    for shown in sheet.rows:
        assert shown.move % Decimal("1.5875") == 0
        assert abs(shown.height + shown.move - shown.line) <= INCH / 2 + Decimal("0.002")


def test_the_moves_come_first_in_words(signed_in, house):
    """By hand: every other hoop high or low by itself, so the line stays and each comes to the edge of its band."""
    heights = LEVEL | {4: "7' 2 3/4\"", 7: "7' 5 1/2\""}
    save(signed_in, house, sent(heights, tolerance='1/4"', line="level"))
    page = text_of(signed_in.get(address(house)))
    # Low 1 1/4 and high 1 1/2: together 2 3/4, less the two halves of the band.
    sheet = signed_in.get(address(house)).context["page"]
    assert sheet.total == INCH * Decimal("2.25")
    assert 'Ridge is within 1/4" of a level line but for 2 hoops: pull hoop 4 up' in page
    assert "push hoop 7 down" in page
    assert page.index("but for 2 hoops") < page.index("Measure again") < page.index("Hoop by hoop")
    assert "do not drive hoops home" in page.lower()
    assert "Three people" in page


def test_a_straight_ridge_needs_nothing(signed_in, house):
    save(signed_in, house, sent(LEVEL))
    page = text_of(signed_in.get(address(house)))
    assert 'Ridge is within 1/2" of a level line at all 13 hoops measured: nothing to pull or push.' in page


def test_hoops_not_measured_are_left_out_and_named(signed_in, house):
    save(signed_in, house, sent(dict.fromkeys((1, 2, 6, 7, 9, 13), "88")))
    response = signed_in.get(address(house))
    assert "Hoops 3 to 5, 8 and 10 to 12 were not measured and are left out." in text_of(response)
    assert [shown.hoop for shown in response.context["page"].rows] == [1, 2, 6, 7, 9, 13]


@pytest.mark.parametrize(
    ("numbers", "words"),
    [([], ""), ([4], "hoop 4"), ([4, 6], "hoops 4 and 6"), ([1, 2, 4, 5, 6], "hoops 1, 2 and 4 to 6")],
)
def test_numbers_of_hoops_in_words(numbers, words):
    assert hoop_numbers(numbers) == words


def test_a_hoop_without_room_is_named_with_how_far_it_stays_off(signed_in, house):
    data = sent(LEVEL | {4: "7' 6\""}) | row(4, "7' 6\"", down='1/2"', up="0")
    for hoop in set(range(1, 14)) - {4}:
        data |= row(hoop, LEVEL[hoop], down="0", up="0")
    save(signed_in, house, data)
    response = signed_in.get(address(house))
    (stuck,) = [shown for shown in response.context["page"].rows if shown.outside]
    # 2 in high, 1/2 in of room; the line rises half an inch within the band of the others.
    assert stuck.hoop == 4
    assert stuck.move == -INCH / 2
    assert float(stuck.after) == pytest.approx(25.4, abs=0.01)
    assert float(stuck.outside) == pytest.approx(12.7, abs=0.01)
    page = text_of(response)
    assert 'One hoop does not come within 1/2" of a level line: hoop 4 stays 1" above the line.' in page
    assert 'Hoop 4 stays 1" (25 mm) above the line, 1/2" outside the tolerance. The 1/2" of room' in page


def test_a_tolerance_finer_than_the_step_is_owned_up_to(signed_in, house):
    """Two stuck hoops hold the line; the third is 1/32 in off the next sixteenth."""
    data = sent({}, tolerance="0")
    for hoop, height in ((1, "88"), (2, '88 3/32"'), (3, "88")):
        data |= row(hoop, height, down="0" if hoop != 2 else "1", up="0")
    save(signed_in, house, data)
    response = signed_in.get(address(house))
    sheet = response.context["page"]
    assert sheet.sight.reachable
    assert float(sheet.sight.miss) == pytest.approx(25.4 / 32, abs=1e-3)
    assert 'Moves in steps of 1/16" come no nearer.' in text_of(response)


@pytest.mark.parametrize(
    ("span", "says"),
    [
        ("12' 1\"", "1\" (25 mm) more than the 12' wanted. Shift its ends in"),
        ("11' 11\"", "1\" (25 mm) less than the 12' wanted. Shift its ends out"),
        ("12' 1/2\"", ""),
    ],
)
def test_a_post_span_that_is_off_is_shifted_first(signed_in, house, span, says):
    save(signed_in, house, sent(LEVEL) | row(5, LEVEL[5], span=span))
    response = signed_in.get(address(house))
    page = text_of(response)
    assert bool(response.context["page"].shifts) is bool(says)
    assert says in page
    assert ("First shift the ends of hoop 5" in page) is bool(says)


def test_a_reading_far_from_the_others_is_doubted(signed_in, house):
    save(signed_in, house, sent(LEVEL | {6: "8' 4\""}))
    assert "Measure hoop 6 again before anything is moved" in text_of(signed_in.get(address(house)))


def test_metric_organisations_read_and_move_in_millimetres(client, db):
    organisation = OrganisationFactory(unit_system="metric")
    client.force_login(MembershipFactory(organisation=organisation).user)
    site = SiteFactory(organisation=organisation)
    house = HouseFactory(site=site, post_span=3600, length=4800, spacing_wanted=1200)
    data = sent({1: "2200", 2: "2.2 m", 3: "2241.5", 4: "2200 mm", 5: "220 cm"}, hoops=5)
    data |= {"tolerance": "12", "span_tolerance": "10 mm", "room_down": "50", "room_up": "50"} | row(4, "2200", "3620")
    assert save(client, house, data).status_code == 302
    response = client.get(address(house))
    sheet, page = response.context["page"], text_of(response)
    # 41.5 mm high; 12 mm of band on either side of the line: 17.5 mm, taken up to 18.
    assert sheet.sight.exact_total == pytest.approx(17.5, abs=1e-3)
    assert sheet.total == 18
    assert "push hoop 3 down 18 mm" in page
    assert '20 mm (13/16") more than the 3 600 mm wanted' in page


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        (row(3, "tall"), "hoop_3_ridge_height", "cannot be read"),
        (row(3, "0"), "hoop_3_ridge_height", "above zero"),
        (row(3, "-88"), "hoop_3_ridge_height", "below zero"),
        (row(3, "2 m 3 in"), "hoop_3_ridge_height", "cannot be mixed"),
        (row(3, "7' 30 cm"), "hoop_3_ridge_height", "cannot be mixed"),
        (row(3, str(10**12)), "hoop_3_ridge_height", "longer than any stick or house"),
        (row(3, "1" * 61), "hoop_3_ridge_height", "60 characters"),
        (row(3, "八十八"), "hoop_3_ridge_height", "cannot be read"),
        (row(3, "88²"), "hoop_3_ridge_height", "cannot be read"),
        (row(3, "", span="12'"), "hoop_3_ridge_height", "Type the ridge height of hoop 3"),
        (row(3, "", down="1"), "hoop_3_ridge_height", "or empty the whole row"),
        (row(3, "88", span="12"), "hoop_3_post_span", "far from the 12'"),
        (row(3, "88", span="0"), "hoop_3_post_span", "far from the 12'"),
        (row(3, "88", span="wide"), "hoop_3_post_span", "cannot be read"),
        (row(3, "88", down="-1"), "hoop_3_down", "below zero"),
        (row(3, "88", up='-1/2"'), "hoop_3_up", "below zero"),
        (row(3, "88", up=str(10**12)), "hoop_3_up", "longer than any stick"),
        ({"tolerance": ""}, "tolerance", "Type how far the ridge may be off the line"),
        ({"span_tolerance": ""}, "span_tolerance", "Type how far a post span may be off"),
        ({"tolerance": "-1"}, "tolerance", "below zero"),
        ({"span_tolerance": "some"}, "span_tolerance", "cannot be read"),
        ({"room_down": "-2"}, "room_down", "below zero"),
        ({"line": "curved"}, "line", "not on the list"),
        ({"line": "rising"}, "rise", "Type how far the ridge rises"),
        ({"line": "falling", "rise": "0"}, "rise", "or choose level"),
        ({"line": "rising", "rise": "48'"}, "rise", "less than that"),
        ({"line": "rising", "rise": "-6"}, "rise", "below zero"),
    ],
)
def test_bad_input_is_refused_in_its_row_and_everything_typed_is_kept(signed_in, house, change, field, says):
    data = sent({1: "7ft 4in", 2: "88 1/16"}) | change
    response = save(signed_in, house, data)
    assert response.status_code == 200
    form = response.context["form"]
    assert set(form.errors) == {field}
    assert says in " ".join(form.errors[field])
    assert all(form[name].value() == typed for name, typed in data.items())
    assert text_of(response).count(f'href="#{form[field].id_for_label or form[field].auto_id}"') == 1
    assert not HouseFit.objects.exists()


def test_nothing_measured_is_refused(signed_in, house):
    response = save(signed_in, house, sent({}))
    assert "No hoop is measured yet" in " ".join(response.context["form"].non_field_errors())
    assert not HouseFit.objects.exists()


def test_digits_of_other_scripts_are_read(signed_in, house):
    save(signed_in, house, sent({1: "８８", 2: "٨٨", 3: "८८ 1/2"}))
    readings = HouseFit.objects.get().readings
    assert list(readings.values_list("ridge_height", flat=True)) == [INCH * 88, INCH * 88, INCH * Decimal("88.5")]


def test_rows_hold_the_last_readings_or_nothing(signed_in, house):
    data = sent(LEVEL, line="rising", rise='6"') | row(5, "7' 4\"", "12' 1\"", '1/2"', "")
    save(signed_in, house, data)
    form = signed_in.get(address(house, "fit-measure")).context["form"]
    shown = {name: str(form[name].field.prepare_value(form[name].value()) or "") for name in form.fields}
    # In a box of inches a size stands in inches.
    inches = {"7' 4\"": '88"', "12' 1\"": '145"'}
    assert shown == {name: inches.get(value, value) for name, value in data.items()}
    empty = signed_in.get(address(house, "fit-measure"), {"rows": "empty"}).context["form"]
    assert empty["line"].value() == "rising"
    assert not any(empty[name].value() for name in empty.fields if name.startswith("hoop_"))


def test_history_is_kept_and_an_earlier_fit_says_so(signed_in, house):
    save(signed_in, house, sent(UNEVEN))
    first = HouseFit.objects.get()
    save(signed_in, house, sent(LEVEL))
    page = text_of(signed_in.get(address(house)))
    assert "Every time it was measured" in page
    assert "nothing to pull or push" in page
    assert reverse("hoops:fit", args=[house.slug, first.pk]) in page
    earlier = text_of(signed_in.get(reverse("hoops:fit", args=[house.slug, first.pk])))
    assert "and again since. Ridge is within" in earlier
    assert "See the latest" in earlier


def test_a_house_not_sighted_yet_offers_the_first_step(signed_in, house):
    page = text_of(signed_in.get(address(house)))
    assert "No hoop of North house has been sighted yet." in page
    assert address(house, "fit-measure") in page
    assert address(house) in text_of(signed_in.get(house.get_absolute_url()))


def test_the_sheet_to_fill_in_has_a_row_a_hoop(signed_in, house):
    page = text_of(signed_in.get(address(house, "fit-sheet")))
    assert page.count('class="write"') == 13 * 4
    assert "48'" in page


def test_a_house_that_cannot_be_built_says_so(signed_in, house):
    save(signed_in, house, sent(LEVEL))
    type(house).objects.filter(pk=house.pk).update(post_depth=FOOT * 9)
    assert signed_in.get(address(house)).status_code == 200
    assert signed_in.get(address(house, "fit-sheet")).status_code == 404
    assert "cannot be built" in text_of(signed_in.get(address(house, "fit-measure"), follow=True))
    assert save(signed_in, house, sent(UNEVEN)).status_code == 302
    assert HouseFit.objects.count() == 1


def test_a_long_house_is_sighted_in_parts(signed_in, house):
    type(house).objects.filter(pk=house.pk).update(length=FOOT * 4 * 449)
    response = signed_in.get(address(house, "fit-measure"), {"from": "401"})
    assert [shown.hoop for shown in response.context["form"].rows] == list(range(401, 451))
    data = sent({}) | row(401, "88") | row(450, "89")
    assert signed_in.post(address(house, "fit-measure") + "?from=401", data).status_code == 302
    assert "Hoops 1 to 400 and 402 to 449 were not measured" in text_of(signed_in.get(address(house)))


@pytest.mark.parametrize("name", ["fit-latest", "fit-measure", "fit-sheet"])
def test_no_page_shows_another_organisations_fit(signed_in, client, house, name):
    save(signed_in, house, sent(LEVEL))
    fit = HouseFit.objects.get()
    client.force_login(MembershipFactory().user)
    assert client.get(address(house, name)).status_code == 404
    assert client.post(address(house, name), sent(UNEVEN)).status_code == 404
    assert client.get(reverse("hoops:fit", args=[house.slug, fit.pk])).status_code == 404
    assert HouseFit.objects.count() == 1


def test_a_fit_shows_under_its_own_house_only(signed_in, house):
    save(signed_in, house, sent(LEVEL))
    other = HouseFactory(site=house.site)
    assert signed_in.get(reverse("hoops:fit", args=[other.slug, HouseFit.objects.get().pk])).status_code == 404


def test_strangers_are_asked_to_sign_in(client, house):
    assert client.get(address(house)).status_code == 302
    assert save(client, house, sent(LEVEL)).status_code == 302
    assert not HouseFit.objects.exists()


def test_more_hoops_and_more_fits_ask_no_more(signed_in, house):
    def queries(name: str) -> int:
        with CaptureQueriesContext(connection) as seen:
            assert signed_in.get(address(house, name)).status_code == 200
        return len(seen)

    names = ("fit-latest", "fit-measure", "fit-sheet")
    save(signed_in, house, sent({1: "88", 2: "88"}))
    save(signed_in, house, sent({1: "88", 2: "88"}))
    few = [queries(name) for name in names]
    type(house).objects.filter(pk=house.pk).update(length=FOOT * 400)
    for _ in range(4):
        save(signed_in, house, sent(dict.fromkeys(range(1, 102), "88"), hoops=101))
    assert [queries(name) for name in names] == few
    assert max(few) <= 12


SIXTEENTHS = st.integers(-80, 80)


@settings(examples(40), suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(
    readings=st.dictionaries(
        st.integers(1, 13), st.tuples(SIXTEENTHS, st.integers(0, 64), st.integers(0, 64)), min_size=1
    ),
    tolerance=st.integers(0, 16),
    slope=st.sampled_from([None, Decimal(0), Decimal("0.01042"), Decimal("-0.0052")]),
)
def test_after_the_moves_all_is_as_the_page_says(house, readings, tolerance, slope):
    part = INCH / 16
    fit = save_fit(
        organisation=house.organisation,
        user=None,
        house=house,
        readings=[
            Reading(hoop, INCH * 88 + part * height, None, part * down, part * up)
            for hoop, (height, down, up) in readings.items()
        ],
        tolerance=part * tolerance,
        span_tolerance=INCH,
        slope=slope,
    )
    sheet = fit_page(fit, units="imperial")
    assert sheet is not None
    assert len(sheet.rows) == len(readings)
    for shown in sheet.rows:
        _, down, up = readings[shown.hoop]
        assert -down * part <= shown.move <= up * part
        off = abs(shown.height + shown.move - shown.line)
        assert off <= fit.tolerance + shown.outside + Decimal("0.002")
        assert float(off) <= float(fit.tolerance) + sheet.sight.miss + 0.002
        assert bool(shown.outside) == any(line.startswith(f"Hoop {shown.hoop} stays ") for line in sheet.stays)
    assert len(sheet.moves) == sum(bool(shown.move) for shown in sheet.rows)
    # One line for all hoops, of the slope asked for.
    if slope is not None:
        front = {shown.line - slope * shown.place for shown in sheet.rows}
        assert max(front) - min(front) < Decimal("0.001")
