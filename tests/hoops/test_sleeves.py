"""A recipe of plain tube joined by sleeves: typed, refused, shown, bent by, and never changed under a batch."""

from __future__ import annotations

import re
from decimal import Decimal
from html import unescape

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from farmbuild.hoops.recipes import services
from farmbuild.hoops.recipes.bridge import bend_recipe_of, sleeve_stress_of, spring_range, wanted_spring_in
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.sites.bridge import drawn_of, take_off_of
from tests.factories import BenderFactory, HouseFactory, MaterialFactory, RecipeFactory, SiteFactory
from tests.hoops.batches.making import make_shop
from tests.reading import text_of

FOOT, INCH = Decimal("304.8"), Decimal("25.4")


def said(response) -> str:
    """The words of a page, without its markup."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]*>", " ", text_of(response))))


@pytest.fixture
def tube(organisation):
    return MaterialFactory(
        organisation=organisation, code="emt-1", name="1 in conduit", swaged=False,
        width=INCH * Decimal("1.163"), thickness=INCH * Decimal("0.057"), yield_mpa=207,
    )  # fmt: skip


@pytest.fixture
def sleeve(organisation):
    return MaterialFactory(
        organisation=organisation, code="emt-3-4", name="3/4 in conduit", swaged=False,
        width=INCH * Decimal("0.922"), thickness=INCH * Decimal("0.049"), yield_mpa=207,
    )  # fmt: skip


@pytest.fixture
def recipe(organisation, tube, sleeve):
    return RecipeFactory(
        organisation=organisation, name="Conduit hoop", tube=tube, insertion=Decimal(0), radius=INCH * 79,
        first_mark=INCH * 15, pitch=INCH * 18, joint="inner sleeve", sleeve_material=sleeve,
        sleeve_length=INCH * 12, sleeve_screws=4,
    )  # fmt: skip


def sent(tube, sleeve, **changes) -> dict[str, str]:
    data = {
        "name": "Conduit hoop", "tube": str(tube.pk), "stick_length": "10'", "sticks": "2", "insertion": "",
        "joint": "inner sleeve", "sleeve_material": str(sleeve.pk), "sleeve_length": '12"', "sleeve_screws": "4",
        "radius": '79"', "first_mark": '15"', "pitch": '18"', "stop_gap": '1"',
    }  # fmt: skip
    return data | changes


class TestForm:
    def test_what_was_typed_is_stored_and_shown_again(self, signed_in, organisation, tube, sleeve) -> None:
        assert signed_in.post(reverse("hoops:recipe-new"), sent(tube, sleeve)).status_code == 302
        made = Recipe.objects.get()
        assert (made.joint, made.sleeve_material, made.sleeve_length, made.sleeve_screws, made.insertion) == (
            "inner sleeve", sleeve, 12 * INCH, 4, 0,
        )  # fmt: skip
        form = signed_in.get(reverse("hoops:recipe-edit", args=[made.slug])).context["form"]
        assert form["joint"].value() == "inner sleeve"
        assert dict(form.groups)["Joints"] == [
            "joint",
            "insertion",
            "sleeve_material",
            "sleeve_length",
            "sleeve_screws",
        ]

    def test_a_form_that_says_nothing_of_joints_leaves_them(self, signed_in, recipe, tube, sleeve) -> None:
        """As a page that was opened before there were any."""
        data = sent(tube, sleeve, name="Renamed", sleeve_length='12"')
        for name in ("joint", "sleeve_screws"):
            del data[name]
        assert signed_in.post(reverse("hoops:recipe-edit", args=[recipe.slug]), data).status_code == 302
        recipe.refresh_from_db()
        assert (recipe.name, recipe.joint, recipe.sleeve_screws) == ("Renamed", "inner sleeve", 4)

    @pytest.mark.parametrize(
        ("changes", "field", "words"),
        [
            ({"insertion": '4"'}, "insertion", "A sleeve loses no length"),
            ({"sleeve_material": ""}, "sleeve_material", "Choose its tube."),
            ({"sleeve_length": ""}, "sleeve_length", "Type how long it is."),
            ({"sleeve_length": "10'"}, "sleeve_length", "no shorter than the stick"),
            ({"joint": "outer sleeve"}, "sleeve_material", 'is 0.824" wide inside, and 1 in conduit 1.163" outside'),
            ({"joint": "none"}, "joint", "that nothing joins"),
            ({"joint": "swage"}, "tube", "join by a sleeve"),
            ({"sleeve_screws": "99"}, "sleeve_screws", "12"),
        ],
    )
    def test_each_slip_is_told_at_its_field(self, signed_in, tube, sleeve, changes, field, words) -> None:
        response = signed_in.post(reverse("hoops:recipe-new"), sent(tube, sleeve, **changes))
        errors = response.context["form"].errors
        assert words in " ".join(errors[field])
        assert set(errors) <= {field, "insertion"}
        assert not Recipe.objects.exists()

    def test_a_sleeve_of_another_organisation_is_refused(self, organisation, user, tube) -> None:
        other = MaterialFactory(swaged=False)
        with pytest.raises(ValidationError) as refused:
            services.create_recipe(
                organisation=organisation, user=user,
                data={
                    "name": "x", "tube": tube, "stick_length": FOOT * 10, "sticks": 2, "insertion": Decimal(0),
                    "radius": INCH * 79, "joint": "inner sleeve", "sleeve_material": other, "sleeve_length": INCH * 12,
                },
            )  # fmt: skip
        assert "sleeve_material" in refused.value.message_dict


class TestPages:
    def test_the_recipe_shows_its_sleeve(self, signed_in, recipe) -> None:
        response = signed_in.get(recipe.get_absolute_url())
        page, sheet = said(response), response.context["page"]
        assert "2 x 10': the sticks butt in a sleeve and lose no length." in page
        figures = {figure.label: figure for figure in sheet.figures}
        assert figures["Pipe in one hoop"].length == 20 * FOOT
        # Pulls bend 6 to 114 of each 120 in: 6 in on either side of the joint stay straight.
        assert figures["Straight at each joint"].length == pytest.approx(12 * INCH, abs=Decimal("0.001"))
        assert "Saw sleeves of 1' off 3/4 in conduit, and take off the burrs." in page
        assert 'Slide each 6" into one stick, and butt the next stick against that.' in page
        assert "Put 4 screws in the side of each sleeve" in page
        assert "swage" not in page.replace("swaged end where", "").casefold()
        for drawing, words in (
            (sheet.hoop, "joint 1: sleeve"),
            (sheet.stick, "straight for the sleeve"),
            (sheet.joint, "sleeve inside both sticks"),
        ):
            assert words in drawing
        assert sheet.joint.count("<circle") == 4
        stress = {figure.label: figure for figure in response.context["spring"].figures}["Bending stress in the sleeve"]
        assert "3/4 in conduit alone carries the moment there" in stress.working

    def test_one_stick_is_joined_by_nothing(self, signed_in, recipe) -> None:
        Recipe.objects.filter(pk=recipe.pk).update(sticks=1, radius=INCH * 38, first_mark=INCH * 9)
        page = said(signed_in.get(recipe.get_absolute_url()))
        sheet = said(signed_in.get(reverse("hoops:recipe-sheet", args=[recipe.slug])))
        for text in (page, sheet):
            assert "join it" not in text
            assert "sleeve" not in text.casefold()
        assert "One stick of 10'." in page

    def test_the_bending_sheet_says_sleeve_and_its_pdf_is_made(self, signed_in, recipe) -> None:
        sheet = said(signed_in.get(reverse("hoops:recipe-sheet", args=[recipe.slug])))
        assert "Saw sleeves of 1'" in sheet and "joint 1: sleeve" in sheet
        assert "Slide each swaged end" not in sheet
        pdf = signed_in.get(reverse("hoops:recipe-sheet-pdf", args=[recipe.slug]))
        assert pdf.content.startswith(b"%PDF")

    def test_a_loose_sleeve_is_warned_of(self, signed_in, organisation, recipe, sleeve) -> None:
        type(sleeve).objects.filter(pk=sleeve.pk).update(width=INCH / 2)
        page = said(signed_in.get(recipe.get_absolute_url()))
        assert 'Sleeve. The sleeve of the hoops is loose: 1 in conduit is 1.049" wide inside' in page
        assert "Tight bend." not in page

    def test_the_house_draws_and_takes_off_its_sleeves(self, signed_in, organisation, recipe) -> None:
        screw = MaterialFactory(organisation=organisation, kind="fastener", swaged=False)
        house = HouseFactory(site=SiteFactory(organisation=organisation), recipe=recipe, screw_material=screw)
        assert len(drawn_of(house, "imperial").sleeves) == 1
        rows = {row.purpose: row for row in take_off_of(house, "imperial")}
        hoops = rows["hoops"].quantity // 2
        assert rows["hoop sleeves"].quantity == hoops
        assert rows["joint screws"].quantity == 4 * hoops
        page = said(signed_in.get(house.get_absolute_url()))
        assert "Its sticks butt in 1 sleeve." in page
        assert "Hoop sleeves" in said(signed_in.get(reverse("sites:takeoff", args=[house.slug])))


class TestStress:
    def test_at_the_joint_the_sleeve_alone_carries_the_bending(self, recipe) -> None:
        """By hand: force x height of the joint over the ends, by the sleeve's own section modulus."""
        inward = 10 * INCH
        found = sleeve_stress_of(recipe, inward)
        assert found is not None
        outside, wall = 0.922 * 25.4, 0.049 * 25.4
        second = 3.141592653589793 / 64 * (outside**4 - (outside - 2 * wall) ** 4)
        assert found.stress == pytest.approx(found.moment / (second / (outside / 2)), rel=1e-9)
        assert found.height == pytest.approx(bend_recipe_of(recipe).hoop.rise, abs=1), "the joint is at the crown"

    def test_a_sleeve_that_stays_bent_is_told_with_both_figures(self, signed_in, recipe) -> None:
        address = f'{recipe.get_absolute_url()}?spring_in=12"'
        page = said(signed_in.get(address))
        assert "stresses the sleeve of 3/4 in conduit to" in page
        assert "Choose a sleeve with a thicker wall, or spring the hoop in at most" in page
        page = said(signed_in.get(f'{recipe.get_absolute_url()}?spring_in=1"'))
        assert "stresses the sleeve" not in page

    def test_what_is_proposed_is_what_the_sleeve_springs_back_from(self, recipe, sleeve) -> None:
        own = spring_range(recipe, None, "imperial")
        assert "Its sleeve springs back from at most" in own
        weak = wanted_spring_in(recipe)
        assert sleeve_stress_of(recipe, weak).stress < 207
        sleeve.yield_mpa = 2070
        recipe.sleeve_material = sleeve
        assert wanted_spring_in(recipe) > weak


def test_what_a_batch_is_joined_by_stays(organisation, user, recipe, sleeve) -> None:
    make_shop(organisation, user, recipe=recipe)
    for change in ({"joint": "outer sleeve"}, {"sleeve_length": INCH * 10}, {"sleeve_material": None}):
        with pytest.raises(ValidationError) as refused:
            services.save_recipe(organisation=organisation, user=user, recipe=recipe, data=change)
        assert "is bent by this recipe, so this stays" in str(refused.value)
    services.save_recipe(organisation=organisation, user=user, recipe=recipe, data={"sleeve_screws": 2})
    recipe.refresh_from_db()
    assert recipe.sleeve_screws == 2


def test_a_bender_says_what_it_makes_of_plain_sticks(signed_in, organisation, tube) -> None:
    bender = BenderFactory(organisation=organisation, rated_radius=INCH * 79)
    address = reverse("hoops:bender", args=[bender.slug])
    asked = {"sticks": "2", "stick_length": "10'", "tube": str(tube.pk), "joint": "inner sleeve"}
    page = said(signed_in.get(address, asked))
    # 240 in on 79 in turn 174 degrees: 2 x 79 x sin(240 / 158 rad).
    assert "make a hoop 13' 1 13/16\" wide" in page
    assert "has no swaged end" in said(signed_in.get(address, asked | {"joint": "swage"}))
    assert "A sleeve loses no length" in said(signed_in.get(address, asked | {"insertion": '4"'}))
