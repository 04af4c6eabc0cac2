"""Forms in which somebody measures show where the tape goes, to scale, with the same in words."""

from __future__ import annotations

import re

import pytest
from django.urls import reverse

from farmbuild.hoops.batches.bridge import wanted_hoop
from farmbuild.hoops.recipes.tape import tape_to_ridge
from tests.factories import HouseFactory, RecipeFactory, SiteFactory
from tests.hoops.batches.making import make_shop
from tests.reading import text_of

pytestmark = pytest.mark.django_db


def circles(svg: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r'<circle class="mark" cx="([\d.-]+)" cy="([\d.-]+)"', svg)]


def test_the_form_of_a_trial_hoop_draws_the_hoop_wanted_with_span_and_rise(signed_in, organisation, user):
    batch = make_shop(organisation, user).batch
    page = text_of(signed_in.get(reverse("hoops:batch-trial", args=[batch.number])))
    drawn = page.split('<figure class="tape">')[1].split("</figure>")[0]
    assert "Where the tape goes on a trial hoop</title>" in drawn
    assert ">free span</text>" in drawn and ">rise</text>" in drawn
    (left, low), (right, _), (middle, high) = circles(drawn)
    hoop = wanted_hoop(batch)
    assert (right - left) / (low - high) == pytest.approx(hoop.span / hoop.rise, rel=0.005)
    assert middle == pytest.approx((left + right) / 2, abs=0.05)


@pytest.mark.parametrize(("foot", "ridge"), [(457, 2235), (457, 3000), (0, 900)])
def test_the_ridge_is_measured_from_one_level_line_up(foot, ridge):
    svg = str(tape_to_ridge(3658, foot, ridge))
    assert ">ridge height</text>" in svg and ">level line</text>" in svg
    ((x, y),) = circles(svg)
    (points,) = re.findall(r'<polyline class="seen" points="(.*?)"', svg)
    placed = [tuple(map(float, point.split(","))) for point in points.split()]
    # The crown of the hoop is where the tape ends; the hoop comes down to the ground on both sides, one span apart.
    assert min(at for _, at in placed) == pytest.approx(y, abs=0.1)
    assert placed[0][1] == placed[-1][1] == 0 and placed[-1][0] == pytest.approx(2 * x, abs=0.1)
    assert (placed[-1][0]) / -y == pytest.approx(3658 / ridge, rel=0.005)
    assert all(-0.01 <= at <= placed[-1][0] + 0.01 for at, _ in placed)


def test_the_forms_of_ridge_and_recipe_show_it_too(signed_in, organisation):
    house = HouseFactory(site=SiteFactory(organisation=organisation))
    ridge = text_of(signed_in.get(reverse("hoops:fit-measure", args=[house.slug])))
    assert "Where the tape goes at a ridge</title>" in ridge
    for address in (
        reverse("hoops:recipe-new"),
        reverse("hoops:recipe-edit", args=[RecipeFactory(organisation=organisation).slug]),
    ):
        page = text_of(signed_in.get(address))
        assert "Where the tape goes at a joint</title>" in page and ">insertion</text>" in page
