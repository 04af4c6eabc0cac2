"""A hoop that is sprung in until it stays bent is told of on every page where somebody could still change it."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from farmbuild.hoops.batches import services as batches
from farmbuild.plans import services
from tests.factories import FOOT, INCH
from tests.hoops.batches.making import make_bender
from tests.reading import text_of

#: 236 in of pipe on 79 in stand 157.53 in wide: 47 1/2 in wider than these posts.
POSTS = Decimal("157.53") * INCH - INCH * Decimal("47.5")
STAYS = "It is stated to yield at 50.0 ksi (345 MPa), so the hoop would stay bent and push less."


@pytest.fixture
def tight(season):
    """The houses of the small season on the 12 ft recipe, their posts 47 1/2 in closer than the hoop stands."""
    recipe = season.houses[0].recipe
    recipe.radius = INCH * 79
    recipe.save()
    recipe.tube.yield_mpa = Decimal(345)
    recipe.tube.save()
    for house in season.houses:
        house.post_span = POSTS
        house.save()
    return season


def pages(season, user) -> dict[str, str]:
    """By name, the addresses of all pages that must tell."""
    house = season.houses[0]
    plan = services.create_plan(**season.ask(user)).plan
    services.work_out_plan(plan.pk)
    bender = make_bender(season.organisation)
    house.recipe.bender = bender
    house.recipe.save()
    batch = batches.create_batch(
        organisation=season.organisation, user=user, recipe=house.recipe, bender=bender, quantity=13, shares={},
        data={"post_span": house.post_span, "spring_in": INCH * Decimal("47.5")},
    )  # fmt: skip
    makes = "?sticks=2&stick_length=10'&insertion=4&post_span=9' 2&spring_in=18&tube=" + str(house.recipe.tube_id)
    return {
        "house": house.get_absolute_url(),
        "take-off": reverse("sites:takeoff", args=[house.slug]),
        "plan": plan.get_absolute_url(),
        "recipe": house.recipe.get_absolute_url(),
        "new batch": reverse("hoops:batch-new") + f"?house={house.slug}",
        "batch": batch.get_absolute_url(),
        "bender": bender.get_absolute_url() + makes,
    }


def test_47_1_2_in_on_a_12_ft_hoop_is_told_everywhere(signed_in, tight, user):
    for name, address in pages(tight, user).items():
        page = text_of(signed_in.get(address))
        if name == "bender":
            assert "springs back from 1&#x27; 9 3/4&quot; at most: sprung in further it stays bent" in page
        else:
            assert STAYS in page, name
            assert "Spring it in at most 1&#x27; 9 3/4&quot;." in page, name


def test_at_13_1_2_in_nothing_is_told(signed_in, tight, user):
    for house in tight.houses:
        house.post_span = FOOT * 12
        house.save()
    for name, address in pages(tight, user).items():
        if name in {"batch", "bender"}:
            continue
        assert "stay bent" not in text_of(signed_in.get(address)), name


def test_without_a_yield_it_is_said_and_how_to_state_it(signed_in, tight, user):
    tube = tight.houses[0].recipe.tube
    tube.yield_mpa, tube.name = None, "Rail <b>light</b>"
    tube.save()
    for name, address in pages(tight, user).items():
        page = text_of(signed_in.get(address))
        assert "has no stated yield, so we cannot say when a sprung-in hoop stays bent." in page, name
        assert "Type the maker&#x27;s yield with the tube." in page.replace("&#39;", "&#x27;"), name
        assert "<b>light" not in page, name


def test_another_spring_in_is_asked_for_with_what_the_tube_allows(signed_in, tight):
    house = tight.houses[0]
    bender = make_bender(tight.organisation)
    form = signed_in.get(reverse("hoops:batch-new") + f"?house={house.slug}").context["form"]
    assert "springs back from at most 1&#x27; 9 3/4&quot;." in form.fields["spring_in"].help_text
    # Its posts stand 9 ft 2 in apart, where there is no common practice.
    assert "common practice" not in form.fields["spring_in"].help_text
    answer = signed_in.post(
        reverse("hoops:batch-new") + f"?house={house.slug}",
        {
            "bender": bender.pk, "quantity": "13", "post_span": "12'", "spring_in": "49",
            "span_tolerance": "2", "rise_tolerance": "2", "twist_tolerance": "2", "go_on": "on",
        },
    )  # fmt: skip
    assert answer.context["form"].errors["spring_in"] == [
        "Springing in more than 4' is not allowed for. Type 4' or less."
    ]
