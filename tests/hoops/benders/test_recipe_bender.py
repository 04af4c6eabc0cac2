"""The bender of a recipe: where the radius comes from, the lever bar, marks on straight legs."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from farmbuild.hoops.recipes import services
from farmbuild.hoops.recipes.models import Recipe
from tests.factories import FOOT, INCH, MaterialFactory, OrganisationFactory, RecipeFactory
from tests.hoops.batches.making import make_bender, make_shop


@pytest.fixture
def tube(organisation):
    return MaterialFactory(organisation=organisation)


@pytest.fixture
def bender(organisation):
    return make_bender(organisation, rated_radius=INCH * 80)


def sent(tube, on, **changes) -> dict[str, str]:
    data = {
        "name": "12 ft hoop",
        "tube": str(tube.pk),
        "stick_length": "10'",
        "sticks": "2",
        "insertion": '4"',
        "bender": str(on.pk) if on else "",
        "radius": "",
        "radius_from": "",
        "first_mark": '9"',
        "pitch": '18"',
        "stop_gap": '1"',
        "lever_length": '36"',
    }
    return data | changes


def post(client, *args, **changes):
    return client.post(reverse("hoops:recipe-new"), sent(*args, **changes))


@pytest.mark.parametrize(
    ("radius", "source", "stored"), [("", "", 80), ("79", "", 79), ("79", "rated", 80), ("", "rated", 80)]
)
def test_the_radius_is_the_benders_unless_typed(signed_in, tube, bender, radius, source, stored):
    assert post(signed_in, tube, bender, radius=radius, radius_from=source).status_code == 302
    made = Recipe.objects.get()
    assert (made.radius, made.bender) == (INCH * stored, bender)


def test_the_radius_may_be_the_measured_one(signed_in, organisation, user):
    shop = make_shop(organisation, user)
    shop.prove()
    measured = shop.now().accepted_trial.effective_radius
    answer = post(signed_in, shop.batch.recipe.tube, shop.batch.bender, radius="85", radius_from="measured")
    assert answer.status_code == 302
    assert Recipe.objects.latest("pk").radius == measured != INCH * 79


@pytest.mark.parametrize(
    ("bender_named", "change", "field", "says"),
    [
        (True, {"radius_from": "measured"}, "radius_from", "No trial hoop has been accepted on Yard bender yet"),
        (False, {"radius_from": "measured"}, "bender", "Choose the bender whose radius to take"),
        (False, {"radius_from": "rated", "radius": "79"}, "bender", "Choose the bender"),
        (False, {}, "radius", "the radius that the bender makes"),
        (True, {"radius": "0"}, "radius", "at least 1"),
        (True, {"radius": "79 in 5 mm"}, "radius", ""),
        (True, {"insertion": "11'"}, "insertion", "Type less than 10'"),
        (True, {"first_mark": "10'"}, "first_mark", "no marks"),
        (True, {"lever_length": "-1"}, "lever_length", "below zero"),
        (True, {"bender": "99999"}, "bender", ""),
    ],
)
def test_bad_input_is_refused_at_its_field_and_kept(signed_in, tube, bender, bender_named, change, field, says):
    response = post(signed_in, tube, bender if bender_named else None, **change)
    form = response.context["form"]
    assert set(form.errors) == {field}
    assert says in " ".join(form.errors[field])
    assert all(form[name].value() == typed for name, typed in change.items())
    assert not Recipe.objects.exists()


def test_archived_and_foreign_benders_are_not_offered(signed_in, organisation, tube, bender):
    make_bender(OrganisationFactory(), name="Foreign")
    old = make_bender(organisation, name="Old", slug="old", archived_at="2026-01-01T00:00Z")
    offered = signed_in.get(reverse("hoops:recipe-new")).context["form"].fields["bender"].queryset
    assert list(offered) == [bender]
    kept = RecipeFactory(organisation=organisation, tube=tube, bender=old)
    offered = signed_in.get(reverse("hoops:recipe-edit", args=[kept.slug])).context["form"].fields["bender"].queryset
    assert set(offered) == {bender, old}


def test_another_organisations_bender_is_refused(organisation, user, tube):
    recipe = RecipeFactory(organisation=organisation, tube=tube)
    with pytest.raises(ValidationError) as refused:
        services.save_recipe(
            organisation=organisation, user=user, recipe=recipe, data={"bender": make_bender(OrganisationFactory())}
        )
    assert set(refused.value.message_dict) == {"bender"}


def test_the_lever_bar_starts_where_the_recipe_says(signed_in, organisation, tube):
    """Marks 9, 26, 43, 60, 77, 94, 111 in on 120 in: below 48 in of free pipe from 77 in, with 43 in left."""
    recipe = RecipeFactory(organisation=organisation, tube=tube, radius=INCH * 79, lever_length=FOOT * 4)
    sheet = signed_in.get(recipe.get_absolute_url()).context["page"]
    assert [mark.at / INCH for mark in sheet.marks] == [9, 26, 43, 60, 77, 94, 111]
    assert [mark.lever for mark in sheet.marks] == [False] * 4 + [True] * 3
    assert "From the mark at 6' 5\" less than 4' of pipe is left" in sheet.lever
    recipe.lever_length = Decimal(0)
    recipe.save()
    assert "no lever bar is needed" in signed_in.get(recipe.get_absolute_url()).context["page"].lever


def test_an_empty_lever_length_is_36_in(signed_in, tube, bender):
    post(signed_in, tube, bender, lever_length="")
    assert Recipe.objects.get().lever_length == INCH * 36


def test_marks_on_straight_legs_are_not_pulled(signed_in, organisation, tube):
    """Three sticks make 352 in of pipe; less pi x 79 that leaves straight legs of 51.9 in.

    Marks 9, 26 and 43 in lie on the first leg; the third stick starts at 232 in, so its 77, 94 and 111 in on the other.
    The marks at 60 in reach half an inch into a leg: part pulls of 16.6 in.
    """
    recipe = RecipeFactory(organisation=organisation, tube=tube, radius=INCH * 79, sticks=3)
    response = signed_in.get(recipe.get_absolute_url())
    sheet = response.context["page"]
    leg = (352 - math.pi * 79) / 2
    first = [n for n, mark in enumerate((9, 26, 43, 60, 77, 94, 111), 1) if mark < leg]
    last = [n for n, mark in enumerate((9, 26, 43, 60, 77, 94, 111), 1) if 352 - (232 + mark) < leg]
    assert (first, last) == ([1, 2, 3], [5, 6, 7])
    assert "Do not pull at marks 1 to 3 of stick 1 or marks 5 to 7 of stick 3" in sheet.unpulled
    assert sheet.pulls_in_hoop == 21 - 6
    assert [mark.left_out for mark in sheet.marks] == [
        *["not pulled on stick 1"] * 3,
        "",
        *["not pulled on stick 3"] * 3,
    ]
    assert [row.less for row in sheet.pull_rows if row.less] == [
        "part pull",
        *["a joint or the pull before overlaps"] * 2,
        "part pull",
    ]
    page = " ".join(response.content.decode().split())
    assert "3 sticks, 15 pulls in all, make a hoop" in page
    assert "Do not pull at marks 1 to 3 of stick 1 or marks 5 to 7 of stick 3" in page
    figures = {figure.label: figure for figure in sheet.figures}
    assert figures["Pulls in one hoop"].text == "15"
    assert "less 6 on straight legs" in figures["Pulls in one hoop"].working


def test_one_stick_with_legs_leaves_both_ends(signed_in, organisation, tube):
    """120 in on 20 in: legs of (120 - pi x 20) / 2 = 28.6 in, so the pulls about 9 and 111 in are left out.

    Those about 26 and 94 in, 17.5 to 34.5 and 85.5 to 102.5 in, bend what is left of the half circle: 5.9 in each.
    """
    recipe = RecipeFactory(organisation=organisation, tube=tube, radius=INCH * 20, sticks=1, insertion=0)
    sheet = signed_in.get(recipe.get_absolute_url()).context["page"]
    assert "Do not pull at marks 1 and 7" in sheet.unpulled
    assert [mark.left_out for mark in sheet.marks] == ["not pulled"] + [""] * 5 + ["not pulled"]
    turn = 34.5 - 28.584
    gap = (1 + (17 - turn) * 17 / 20) * 16
    (part,) = [words for words in sheet.steps if words.startswith("Pull only part way")]
    for mark in (2, 6):
        assert f'{math.degrees(turn / 20):.1f}° at mark {mark} (stop gap 10 7/16")' in part
    assert round(gap) == 10 * 16 + 7
    # 26 in are left past the last mark that is pulled, 94 in: less than 36 in.
    assert "From the mark at 7' 10\"" in sheet.lever


def test_a_hoop_without_legs_pulls_every_mark(signed_in, organisation, user):
    shop = make_shop(organisation, user)
    sheet = signed_in.get(shop.batch.recipe.get_absolute_url()).context["page"]
    assert (sheet.unpulled, sheet.pulls_in_hoop) == ("", 14)
