"""What a bender makes, its misuse with numbers, and which sticks and radius make the wanted span."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from django.urls import reverse
from scipy.optimize import brentq

from farmbuild.common.lengths import to_decimal
from farmbuild.hoops.benders.made_hoops import Sticks, choices_for, hoop_of, needed_words, span_words
from farmbuild.hoops.recipes.misfits import bender_misfits
from tests.factories import FOOT, INCH, HouseFactory, MaterialFactory, MembershipFactory, RecipeFactory, SiteFactory
from tests.hoops.batches.making import make_bender
from tests.reading import text_of

#: Two and three 10 ft sticks with 4 in of insertion, in.
TWO, THREE = 236, 352
HALF_TWO = TWO / (2 * 79)
#: Free span of two sticks on a radius of 79 in: chord of the handbook's segment.
MAKES = 2 * 79 * math.sin(HALF_TWO)


@pytest.fixture
def bender(organisation):
    return make_bender(organisation)


@pytest.fixture
def recipe(organisation, bender):
    tube = MaterialFactory(organisation=organisation, name="1-3/8 in rail")
    # Marks that leave nothing of 120 in straight.
    marks = {"first_mark": INCH * Decimal("7.5"), "pitch": INCH * 15}
    return RecipeFactory(
        organisation=organisation, tube=tube, radius=INCH * 79, bender=bender, slug="hoop-12-ft", **marks
    )


def ask(**changes) -> dict[str, str]:
    return {"sticks": "2", "stick_length": "10'", "insertion": "4", "post_span": "14'", "spring_in": "18"} | changes


def test_two_sticks_on_the_12_ft_bender_are_the_handbook_segment():
    hoop = hoop_of(Sticks(2, FOOT * 10, INCH * 4), INCH * 79)
    assert hoop.span / 25.4 == pytest.approx(MAKES)
    assert hoop.rise / 25.4 == pytest.approx(79 * (1 - math.cos(HALF_TWO)))


def test_choices_hold_the_wanted_span():
    """14 ft and 18 in are 186 in: two sticks by sin(a) / a = 186 / 236, three as a half circle with legs."""
    two, three = choices_for(Sticks(2, FOOT * 10, INCH * 4), INCH * 79, INCH * 186)
    half = brentq(lambda a: math.sin(a) / a - 186 / TWO, 0.1, 3)
    assert (two.sticks, three.sticks) == (2, 3)
    assert float(two.radius / INCH) == pytest.approx(TWO / (2 * half))
    assert two.leg == 0
    assert float(three.radius / INCH) == pytest.approx(93)
    assert float(three.leg / INCH) == pytest.approx((THREE - math.pi * 93) / 2)
    assert float(two.makes / INCH) == pytest.approx(MAKES)
    assert float(two.off / INCH) == pytest.approx(MAKES - 186)
    assert float(three.makes / INCH) == pytest.approx(158)


def test_plain_tube_is_not_joined():
    assert choices_for(Sticks(1, FOOT * 10, Decimal(0), joinable=False), INCH * 38, INCH * 186) == []
    assert "No number of such sticks" in needed_words([], INCH * 186, "imperial")


@pytest.mark.parametrize(
    ("post", "misses", "says"),
    [
        (168, True, "10 1/2\" narrower than posts 14' apart, and 2' 4 1/2\" less than the free span of 15' 6\""),
        (144, False, "1' 1 1/2\" wider than posts 12' apart, 4 1/2\" less than the 1' 6\" of spring-in"),
        (100, True, "springing in more than 4' is not allowed for"),
    ],
)
def test_how_far_off_is_said_with_numbers(post, misses, says):
    hoop = hoop_of(Sticks(2, FOOT * 10, INCH * 4), INCH * 79)
    found, words = span_words(to_decimal(hoop.span), INCH * post, INCH * 18, "imperial")
    assert found is misses
    assert says in words


def test_the_page_answers_what_it_would_make(signed_in, bender):
    response = signed_in.get(bender.get_absolute_url(), ask())
    makes, page = response.context["made_hoop"], text_of(response)
    assert makes.misses
    assert float(makes.wanted / INCH) == 186
    assert makes.sentence.startswith(
        "On its rated radius of 6' 7\", 2 sticks of 10' make a hoop 13' 1 1/2\" wide and 6' 0 15/16\" high"
    )
    assert "10 1/2\" narrower than posts 14' apart" in makes.sentence
    assert "Not this bender&#x27;s span." in page or "Not this bender's span." in page
    assert [row.sticks for row in makes.choices] == [2, 3]


def test_without_a_wanted_span_it_says_what_comes_out(signed_in, bender):
    makes = signed_in.get(bender.get_absolute_url(), ask(post_span="")).context["made_hoop"]
    assert not makes.misses
    assert makes.choices == []
    assert "posts" not in makes.sentence


def test_nothing_is_answered_before_someone_asks(signed_in, bender, recipe):
    response = signed_in.get(bender.get_absolute_url())
    assert response.context["made_hoop"] is None
    assert response.context["form"]["tube"].value() == recipe.tube_id


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"insertion": "10'"}, "insertion", "no shorter than the stick"),
        ({"insertion": ""}, "insertion", "Type how far"),
        ({"stick_length": "0"}, "stick_length", "at least 1"),
        ({"stick_length": "10 ft 20 mm"}, "stick_length", ""),
        ({"stick_length": ""}, "stick_length", "Type the length of one stick"),
        ({"sticks": "0"}, "sticks", "from 1 to 12"),
        ({"sticks": str(10**12)}, "sticks", "from 1 to 12"),
        ({"post_span": "wide"}, "post_span", "cannot be read"),
        ({"spring_in": "-18"}, "spring_in", "below zero"),
    ],
)
def test_a_bad_question_is_refused_at_its_field_and_kept(signed_in, bender, change, field, says):
    response = signed_in.get(bender.get_absolute_url(), ask(**change))
    form = response.context["form"]
    assert set(form.errors) == {field}
    assert says in " ".join(form.errors[field])
    assert all(form[name].value() == typed for name, typed in change.items())
    assert response.context["made_hoop"] is None


def test_plain_tube_in_two_sticks_is_refused(signed_in, organisation, bender):
    plain = MaterialFactory(organisation=organisation, swaged=False, name="Plain conduit")
    form = signed_in.get(bender.get_absolute_url(), ask(tube=str(plain.pk))).context["form"]
    assert "Plain conduit has no swaged end" in " ".join(form.errors["tube"])


def test_a_tube_of_another_organisation_cannot_be_asked_with(signed_in, bender):
    form = signed_in.get(bender.get_absolute_url(), ask(tube=str(MaterialFactory().pk))).context["form"]
    assert set(form.errors) == {"tube"}


def test_the_recipe_page_flags_a_bender_for_another_span(signed_in, organisation, recipe):
    """A 12 ft bender for a 14 ft house: what it makes, how far off, and what would make it."""
    house = HouseFactory(
        site=SiteFactory(organisation=organisation), recipe=recipe, post_span=FOOT * 14, name="North 9"
    )
    response = signed_in.get(recipe.get_absolute_url())
    (misfit,) = response.context["misfits"]
    assert misfit.title == "Not the span of North 9"
    for words in (
        "Yard bender is rated for a radius of 6' 7\"; with these sticks and marks it makes a hoop 13' 1 1/2\" wide.",
        "10 1/2\" narrower than posts 14' apart",
        "A free span of 15' 6\" takes 2 sticks on a radius of 8' 5",
        "or 3 sticks on a radius of 7' 9\" with straight legs of 2' 6",
    ):
        assert words in misfit.words
    assert "Not the span of North 9" in text_of(response)
    house.post_span = FOOT * 12
    house.save()
    assert signed_in.get(recipe.get_absolute_url()).context["misfits"] == []


def test_a_recipe_for_another_radius_than_its_bender_is_flagged(recipe):
    recipe.radius = INCH * 93
    (misfit,) = bender_misfits(recipe, {})
    assert misfit.title == "Another radius"
    assert "worked for a radius of 7' 9\"" in misfit.words
    own = 2 * 93 * math.sin(TWO / (2 * 93))
    assert float(misfit.choices[0].radius / INCH) == pytest.approx(93)
    assert float(misfit.choices[0].off / INCH) == pytest.approx(MAKES - own)


def test_a_bender_that_does_not_fit_the_tube_is_flagged(organisation, recipe, bender):
    other = MaterialFactory(organisation=organisation, name="Thin conduit")
    bender.tubes.add(other)
    (misfit,) = bender_misfits(recipe, {})
    assert misfit.words == "Yard bender fits Thin conduit; 1-3/8 in rail is not among them."
    bender.tubes.add(recipe.tube)
    assert bender_misfits(recipe, {}) == []


def test_without_a_bender_nothing_is_flagged(organisation):
    assert bender_misfits(RecipeFactory(organisation=organisation), {FOOT * 40: "X"}) == []


def test_houses_of_others_do_not_speak_for_the_recipe(client, recipe):
    client.force_login(MembershipFactory().user)
    assert client.get(reverse("hoops:recipe", args=[recipe.slug]), {"post_span": "14'"}).status_code == 404
