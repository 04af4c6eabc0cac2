"""Recipes: what the page works out, what is refused at the field, and whose rows it shows."""

from __future__ import annotations

import math
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from farmbuild.hoops.recipes import services
from farmbuild.hoops.recipes.bridge import recipe_warnings
from farmbuild.hoops.recipes.drawings import lever_mark
from farmbuild.hoops.recipes.models import Recipe
from tests.factories import HouseFactory, MaterialFactory, MembershipFactory, RecipeFactory, SiteFactory
from tests.mechanics.test_recipe import twelve_foot
from tests.reading import text_of

FOOT, INCH = Decimal("304.8"), Decimal("25.4")


@pytest.fixture
def tube(organisation):
    return MaterialFactory(organisation=organisation, code="rail-1-3-8", name="1-3/8 in rail")


@pytest.fixture
def recipe(organisation, tube):
    """Two 10 ft sticks on a 79 in radius."""
    return RecipeFactory(organisation=organisation, name="12 ft hoop", slug="hoop-12-ft", tube=tube, radius=INCH * 79)


def sent(tube, **changes) -> dict[str, str]:
    data = {
        "name": "14 ft hoop",
        "tube": str(tube.pk),
        "stick_length": "10'",
        "sticks": "2",
        "insertion": '4"',
        "radius": '79"',
        "first_mark": '9"',
        "pitch": '18"',
        "stop_gap": '1"',
    }
    return data | changes


def test_the_page_works_the_hoop_out(signed_in, recipe):
    """Handbook segment: 236 in on a radius of 79 in, but for half an inch at either end that no mark reaches."""
    response = signed_in.get(recipe.get_absolute_url())
    sheet, page = response.context["page"], text_of(response)
    half = 235 / (2 * 79)
    assert float(sheet.free_span / INCH) == pytest.approx(2 * 79 * math.sin(half) + math.cos(half), abs=1e-6)
    assert float(sheet.rise / INCH) == pytest.approx(79 * (1 - math.cos(half)) + math.sin(half) / 2, abs=1e-6)
    assert [mark.at / INCH for mark in sheet.marks] == [9, 26, 43, 60, 77, 94, 111]
    assert [(row.stick, row.mark) for row in sheet.pull_rows[5:9]] == [(1, 6), (1, 7), (2, 1), (2, 2)]
    assert [float(row.start / INCH) for row in sheet.pull_rows[5:9]] == pytest.approx([85.5, 102.5, 119.5, 133.5])
    assert [float(row.end / INCH) for row in sheet.pull_rows[5:9]] == pytest.approx([102.5, 119.5, 133.5, 150.5])
    assert [row.less for row in sheet.pull_rows[5:9]] == ["", "", "a joint or the pull before overlaps", ""]
    figures = {figure.label: figure for figure in sheet.figures}
    assert figures["Pipe in one hoop"].length == INCH * 236
    assert figures["Pulls in one hoop"].text == "14"
    assert figures["Bend at each pull"].text.startswith(f"{math.degrees(17 / 79):.2f}°")
    assert figures["Straight at the ends"].text == '1/2" and 1/2"'
    assert "2 sticks, 7 pulls on each, make a hoop" in page
    assert "The swaged end goes into the bender first." in page
    assert "never on top (common practice, no source)" in page
    assert page.count("joint 1</text>") == 1
    assert page.count("How worked out") == len(sheet.figures) + len(response.context["spring"].figures)


def test_the_lever_bar_starts_where_little_pipe_is_left(signed_in, recipe):
    """Less than 36 in past the mark at 94 in of 120 in: 26 in (common practice, no source)."""
    sheet = signed_in.get(recipe.get_absolute_url()).context["page"]
    assert [mark.lever for mark in sheet.marks] == [False] * 5 + [True] * 2
    assert "7' 10\"" in sheet.lever


def test_the_lever_bar_is_needed_from_the_first_mark_that_leaves_too_little_pipe():
    """By hand on a 10 ft stick: the mark at 84 in leaves 36 in, which is enough; at the next it does not."""
    recipe = twelve_foot(first_mark=INCH * 12)
    assert INCH * 84 in recipe.marks
    assert lever_mark(recipe) == INCH * 102
    assert lever_mark(twelve_foot(first_mark=INCH * 12 + Decimal("0.000001"))) == INCH * 84 + Decimal("0.000001")
    assert lever_mark(twelve_foot(), INCH * 3) is None
    assert lever_mark(twelve_foot(), INCH * 200) == INCH * 9


def test_a_half_circle_leaves_straight_legs(signed_in, organisation):
    conduit = MaterialFactory(organisation=organisation, swaged=False, width=INCH * Decimal("0.922"))
    low = RecipeFactory(organisation=organisation, tube=conduit, sticks=1, insertion=0, radius=INCH * 36)
    figures = {row.label: row for row in signed_in.get(low.get_absolute_url()).context["page"].figures}
    # The outermost of seven marks bend half of what is left of the half circle after five pulls of 17 in.
    part = (math.pi * 36 - 5 * 17) / 2
    assert 9 - part / 2 == pytest.approx(2, abs=1 / 32)
    assert figures["Straight at the ends"].text == '2" and 2"'
    widened = 2 * (17 - part) / 2 * math.sin(part / 36)
    assert float(figures["Free span"].length / INCH) == pytest.approx(72 + widened, abs=0.01)


@pytest.mark.parametrize(("radius", "warned"), [("13", True), ("14", False)])
def test_a_tight_radius_is_warned_of_not_refused(signed_in, organisation, tube, radius, warned):
    """Ten diameters of 1-3/8 in pipe are 13-3/4 in."""
    made = signed_in.post(reverse("hoops:recipe-new"), sent(tube, radius=f'{radius}"'))
    assert made.status_code == 302
    assert bool(recipe_warnings(Recipe.objects.get())) is warned
    assert ("Tight bend." in text_of(signed_in.get(made["Location"]))) is warned


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"insertion": "10'"}, "insertion", "10'"),
        ({"insertion": "11'"}, "insertion", "Type less than 10'"),
        ({"insertion": ""}, "insertion", "Type how far the swaged end slides in"),
        ({"first_mark": "10'"}, "first_mark", "no marks"),
        ({"pitch": "0"}, "pitch", "at least 1"),
        ({"pitch": "-18"}, "pitch", "below zero"),
        ({"stop_gap": '18"'}, "stop_gap", "1' 6"),
        ({"radius": "wide"}, "radius", "cannot be read"),
        ({"radius": ""}, "radius", "the radius that the bender makes"),
        ({"stick_length": str(10**12)}, "stick_length", "longer than any stick"),
        ({"sticks": "0"}, "sticks", "from 1 to 12"),
        ({"sticks": str(10**12)}, "sticks", "from 1 to 12"),
        ({"sticks": "two"}, "sticks", "whole number"),
        ({"stick_length": "98'", "pitch": '2"'}, "pitch", "more than 500 on a stick of 98'"),
        ({"name": ""}, "name", "what the recipe is called"),
    ],
)
def test_bad_input_is_refused_at_its_field_and_kept(signed_in, tube, change, field, says):
    response = signed_in.post(reverse("hoops:recipe-new"), sent(tube, **change))
    assert response.status_code == 200
    form = response.context["form"]
    assert set(form.errors) == {field}
    assert says in " ".join(form.errors[field])
    assert all(form[name].value() == typed for name, typed in change.items())
    assert not Recipe.objects.exists()


def test_sticks_join_at_a_swaged_end_only(signed_in, organisation):
    plain = MaterialFactory(organisation=organisation, swaged=False, name="Plain conduit")
    response = signed_in.post(reverse("hoops:recipe-new"), sent(plain))
    assert "Plain conduit has no swaged end" in " ".join(response.context["form"].errors["tube"])


def test_a_recipe_is_edited_and_keeps_its_address(signed_in, recipe, tube):
    address = reverse("hoops:recipe-edit", args=[recipe.slug])
    assert signed_in.get(address).context["form"]["radius"].value() == '79"'
    assert signed_in.post(address, sent(tube, radius="2 m"))["Location"] == "/hoops/hoop-12-ft/"
    recipe.refresh_from_db()
    assert (recipe.name, recipe.radius, recipe.slug) == ("14 ft hoop", Decimal(2000), "hoop-12-ft")


def test_names_in_any_script_get_an_address(organisation, user, tube):
    make = {"organisation": organisation, "user": user}
    values = {"tube": tube, "stick_length": FOOT * 10, "insertion": INCH * 4, "radius": INCH * 79}
    slugs = [services.create_recipe(data=values | {"name": name}, **make).slug for name in ("Новая дуга", "New")]
    assert slugs == ["hoop", "new-2"]


def test_another_organisations_tube_is_refused(organisation, user, recipe):
    foreign = MaterialFactory()
    with pytest.raises(ValidationError) as refused:
        services.save_recipe(organisation=organisation, user=user, recipe=recipe, data={"tube": foreign})
    assert set(refused.value.message_dict) == {"tube"}
    recipe.refresh_from_db()
    assert recipe.tube != foreign


def test_an_unused_recipe_is_deleted_and_a_used_one_archived(signed_in, organisation, recipe):
    house = HouseFactory(site=SiteFactory(organisation=organisation), recipe=recipe)
    answer = signed_in.post(reverse("hoops:recipe-delete", args=[recipe.slug]), follow=True)
    assert "is used by 1 house" in text_of(answer)
    signed_in.post(reverse("hoops:recipe-archive", args=[recipe.slug]))
    assert "12 ft hoop</a>" not in text_of(signed_in.get(reverse("hoops:recipes")))
    assert "12 ft hoop</a>" in text_of(signed_in.get(reverse("hoops:recipes"), {"archived": "1"}))
    # The house keeps it on offer; a house that does not use it is not offered it.
    offered = signed_in.get(reverse("sites:house-edit", args=[house.slug])).context["form"].fields["recipe"].queryset
    assert recipe in offered
    other = HouseFactory(site=house.site)
    offered = signed_in.get(reverse("sites:house-edit", args=[other.slug])).context["form"].fields["recipe"].queryset
    assert recipe not in offered
    signed_in.post(reverse("hoops:recipe-bring-back", args=[recipe.slug]))
    assert "12 ft hoop</a>" in text_of(signed_in.get(reverse("hoops:recipes")))
    house.delete()
    assert signed_in.post(reverse("hoops:recipe-delete", args=[recipe.slug]))["Location"] == "/hoops/"
    assert not Recipe.objects.filter(pk=recipe.pk).exists()


def test_a_stored_recipe_that_makes_no_hoop_says_so(signed_in, recipe):
    Recipe.objects.update(first_mark=FOOT * 11)
    assert "No hoop can be made this way." in text_of(signed_in.get(recipe.get_absolute_url()))
    assert signed_in.get(reverse("hoops:recipes")).status_code == 200


@pytest.mark.parametrize("name", ["recipe", "recipe-edit"])
def test_no_page_shows_another_organisations_recipe(client, recipe, name):
    client.force_login(MembershipFactory().user)
    assert client.get(reverse(f"hoops:{name}", args=[recipe.slug])).status_code == 404
    assert "12 ft hoop" not in text_of(client.get(reverse("hoops:recipes")))


@pytest.mark.parametrize("name", ["recipe-edit", "recipe-archive", "recipe-bring-back", "recipe-delete"])
def test_nothing_changes_another_organisations_recipe(client, recipe, tube, name):
    client.force_login(MembershipFactory().user)
    before = list(Recipe.objects.values())
    assert client.post(reverse(f"hoops:{name}", args=[recipe.slug]), sent(tube)).status_code == 404
    assert list(Recipe.objects.values()) == before


def test_the_list_asks_no_more_for_more_rows(signed_in, recipe):
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert signed_in.get(reverse("hoops:recipes")).status_code == 200
        return len(seen)

    def more(count: int, stem: str) -> None:
        Recipe.objects.bulk_create(
            Recipe(
                organisation=recipe.organisation,
                tube=recipe.tube,
                name=f"{stem} {n}",
                slug=f"{stem}-{n}",
                stick_length=FOOT * 10,
                radius=INCH * 79,
                insertion=INCH * 4,
            )
            for n in range(count)
        )

    more(10, "few")
    queries()
    few = queries()
    more(1200, "many")
    assert queries() == few < 12
