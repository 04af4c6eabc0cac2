"""Springing in on the recipe page: numbers against the handbook, warnings, and what is refused."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from scipy.integrate import quad

from tests.factories import FOOT, INCH, HouseFactory, MaterialFactory, OrganisationFactory, RecipeFactory, SiteFactory
from tests.hoops.batches.making import make_bender
from tests.reading import text_of

LBF = 4.4482216152605
END_TO_END = {"first_mark": INCH * Decimal("7.5"), "pitch": INCH * 15}


@pytest.fixture
def rail(organisation):
    return MaterialFactory(organisation=organisation, yield_mpa=Decimal(345), yield_source="Maker's sheet")


@pytest.fixture
def recipe(organisation, rail):
    """Marks that leave nothing of 120 in straight."""
    return RecipeFactory(organisation=organisation, tube=rail, radius=INCH * 79, **END_TO_END)


def figures_of(response) -> dict[str, object]:
    return {figure.label: figure for figure in response.context["spring"].figures}


def worked(radius: float, half: float, inward: float) -> tuple[float, float, float]:
    """Force N, crown moment N mm and stress MPa of 1-3/8 x 0.065 in rail: the integral of y^2 done numerically."""
    od, bore = 1.375 * 25.4, 1.245 * 25.4
    second = math.pi / 64 * (od**4 - bore**4)
    give = quad(lambda t: (radius * (math.cos(t) - math.cos(half))) ** 2 * radius, -half, half)[0]
    force = inward * 200_000 * second / give
    moment = force * radius * (1 - math.cos(half))
    return force, moment, moment * od / 2 / second


@pytest.mark.parametrize("inches", [76, 79, 131, 200])
def test_numbers_agree_with_the_integral(signed_in, recipe, inches):
    """Any half angle: 236 in of pipe on radii that bend it by 0.59 to 1.55 rad a side."""
    recipe.radius = INCH * inches
    recipe.save()
    half = 236 / (2 * inches)
    figures = figures_of(signed_in.get(recipe.get_absolute_url(), {"spring_in": "18"}))
    force, moment, stress = worked(inches * 25.4, half, 18 * 25.4)
    assert figures["Force at each end"].text == f"{force / LBF:,.0f} lbf ({force:,.0f} N)"
    assert figures["Moment at the crown"].text == f"{moment / LBF / 304.8:,.0f} lbf ft ({moment / 1000:,.0f} N m)"
    assert figures["Bending stress at the crown"].text == f"{stress / 6.894757:.1f} ksi ({stress:,.0f} MPa)"
    assert float(figures["Most that springs back"].length) == pytest.approx(345 / stress * 18 * 25.4, rel=1e-6)


def test_the_post_span_gives_the_spring_in(signed_in, recipe):
    """A free span of 2 x 79 x sin(236 / 158) in over posts of 12 ft."""
    response = signed_in.get(recipe.get_absolute_url(), {"post_span": "12'"})
    inward = 2 * 79 * math.sin(236 / 158) - 144
    assert float(response.context["spring"].inward / INCH) == pytest.approx(inward)
    force, _, _ = worked(79 * 25.4, 236 / 158, inward * 25.4)
    page = text_of(response)
    assert f"takes {force / LBF:,.0f} lbf ({force:,.0f} N) at each end" in page
    assert "no structural design" in page
    assert "Castigliano; Roark" in page
    assert "Maker&#x27;s sheet" in page
    assert response.context["spring"].warning == ""


def test_a_spring_in_that_takes_a_set_is_warned_of(signed_in, recipe):
    response = signed_in.get(recipe.get_absolute_url(), {"spring_in": "40"})
    _, _, stress = worked(79 * 25.4, 236 / 158, 40 * 25.4)
    assert stress > 345
    assert (
        f"({stress:,.0f} MPa). It is stated to yield at 50.0 ksi (345 MPa), so the hoop would stay bent"
        in response.context["spring"].warning
    )
    assert "Takes a set." in text_of(response)


def test_a_hoop_narrower_than_its_posts_is_pulled_apart(signed_in, recipe):
    spring = signed_in.get(recipe.get_absolute_url(), {"post_span": "14'"}).context["spring"]
    assert spring.inward < 0
    assert spring.answer.startswith('Springing it apart by 10 1/2"')


def test_before_anybody_asks_it_is_worked_for_the_house(signed_in, organisation, recipe):
    HouseFactory(site=SiteFactory(organisation=organisation), recipe=recipe, name="North 9")
    response = signed_in.get(recipe.get_absolute_url())
    assert response.context["spring_for"] == "Worked for the posts of North 9, 12' apart."
    assert float(response.context["spring"].inward / INCH) == pytest.approx(2 * 79 * math.sin(236 / 158) - 144)


def test_without_a_house_it_is_worked_for_the_bender_or_the_usual(signed_in, organisation, recipe):
    response = signed_in.get(recipe.get_absolute_url())
    assert response.context["spring"].inward == INCH * 18
    # 345 MPa at the crown of 1-3/8 in rail: 21.7 in.
    assert "springs back from at most 1' 9 3/4\"." in response.context["spring_for"]
    assert (
        "1' to 2' is common practice for 1-3/8 in rail over posts 12' to 20' apart, no source."
        in response.context["spring_for"]
    )
    recipe.bender = make_bender(organisation)
    recipe.save()
    assert "12' house that Yard bender is sold for" in signed_in.get(recipe.get_absolute_url()).context["spring_for"]


def test_a_tube_without_wall_or_yield(signed_in, recipe, rail):
    rail.yield_mpa = None
    rail.save()
    response = signed_in.get(recipe.get_absolute_url(), {"spring_in": "18"})
    assert "Most that springs back" not in figures_of(response)
    assert figures_of(response)["Stated yield"].text == "not stated"
    rail.thickness = None
    rail.save()
    spring = signed_in.get(recipe.get_absolute_url(), {"spring_in": "18"}).context["spring"]
    assert spring.figures == []
    assert "outside diameter and wall" in spring.answer


def test_a_nearly_straight_pipe_is_no_hoop(signed_in, recipe):
    recipe.radius = FOOT * 30_000
    recipe.save()
    response = signed_in.get(recipe.get_absolute_url(), {"spring_in": "1"})
    assert response.context["spring"].answer.startswith("This pipe is nearly straight")
    assert response.context["spring"].figures == []


def test_a_metric_shop_reads_newtons_first(client, db):
    from tests.factories import MembershipFactory

    shop = OrganisationFactory(unit_system="metric")
    client.force_login(MembershipFactory(organisation=shop).user)
    rail = MaterialFactory(organisation=shop, yield_mpa=345)
    made = RecipeFactory(organisation=shop, tube=rail, radius=INCH * 79, **END_TO_END)
    figures = figures_of(client.get(made.get_absolute_url(), {"spring_in": "457.2"}))
    force, _, _ = worked(79 * 25.4, 236 / 158, 457.2)
    assert figures["Force at each end"].text == f"{force:,.0f} N ({force / LBF:,.0f} lbf)"


@pytest.mark.parametrize(
    ("asked", "field", "says"),
    [
        ({"post_span": "12'", "spring_in": "18"}, "spring_in", "Empty one of the two"),
        ({"post_span": "", "spring_in": ""}, "post_span", "Type the span between the posts"),
        ({"post_span": "0"}, "post_span", "at least 1"),
        ({"post_span": "40'"}, "post_span", "more than twice as wide"),
        ({"spring_in": "14'"}, "spring_in", "would meet"),
        ({"spring_in": "-3"}, "spring_in", "below zero"),
        ({"spring_in": "3 in 2 cm"}, "spring_in", ""),
    ],
)
def test_a_bad_question_is_refused_at_its_field_and_kept(signed_in, recipe, asked, field, says):
    response = signed_in.get(recipe.get_absolute_url(), asked)
    form = response.context["spring_form"]
    assert set(form.errors) == {field}
    assert says in " ".join(form.errors[field])
    assert all(form[name].value() == typed for name, typed in asked.items())
    assert response.context["spring"] is None


def test_a_span_of_feet(signed_in, recipe):
    """A bare number is feet for a span and inches for a spring-in."""
    response = signed_in.get(recipe.get_absolute_url(), {"post_span": "12"})
    assert float(response.context["spring_form"].cleaned_data["post_span"]) == float(FOOT * 12)
