"""Every page of sites and houses: what it says, what it refuses, and whose rows it shows."""

from __future__ import annotations

import re
from datetime import date, timedelta
from decimal import Decimal
from io import BytesIO

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from farmbuild.catalogue.models import Material
from farmbuild.common.templatetags.farm import day
from farmbuild.orgs.clock import today_of
from farmbuild.sites.models import House, Site
from farmbuild.sites.services import archive_house, archive_site, create_house, prepare_starter
from farmbuild.sites.starters import starter_named, starters_in
from tests.factories import HouseFactory, MaterialFactory, MembershipFactory, RecipeFactory, SiteFactory
from tests.reading import text_of
from tests.sites.posting import edit_data, sent_by

FOOT = Decimal("304.8")
CURTAIN = ("curtains", "pipes", "cranks", "guides")


@pytest.fixture
def site(organisation):
    return SiteFactory(organisation=organisation, name="North Field", slug="north-field", address="1 Made-up Lane")


@pytest.fixture
def house(organisation, user, site):
    """The 12 ft starter, with everything that a house may have."""
    values = prepare_starter(organisation=organisation, user=user, starter=starter_named("12-ft-house"))
    return create_house(
        organisation=organisation,
        user=user,
        site=site,
        name="North Field 2",
        need_date=date(2027, 5, 3),
        data=values,
    )


# Houses


def test_the_house_page_answers_first_and_draws(signed_in, house):
    page = text_of(signed_in.get(house.get_absolute_url()))
    assert "13 hoops at" in page
    assert "materials needed by 3 May 2027." in page
    assert reverse("sites:takeoff", args=[house.slug]) in page
    for title in ("section", "side view and plan", "both ends"):
        assert f"North Field 2: {title}</title>" in page
    assert "Posts 12&#x27; apart, 2&#x27; in the ground and 2&#x27; above it. The hoop stands 6&quot; in them." in page
    assert "Sides: film to the ground." in page
    # Post span, ridge and spacing stand on the drawings as text, in both units.
    assert "post span 12&#x27; · 3\u202f658 mm" in page
    assert ">hoops apart 4&#x27;" in page
    assert ">1\u202f219 mm</text>" in page
    assert "length 48&#x27; · 14\u202f630 mm" in page


def test_door_latches_are_chosen_on_the_form_and_stand_in_the_takeoff(signed_in, organisation, house):
    latch = MaterialFactory(organisation=organisation, code="latch", name="Gate latch", kind="hardware")
    address = reverse("sites:house-edit", args=[house.slug])
    assert "Door latch" in text_of(signed_in.get(address))
    sent = edit_data(signed_in, house) | {"door_latch_material": str(latch.pk)}
    assert signed_in.post(address, sent).status_code == 302
    takeoff = signed_in.get(reverse("sites:takeoff", args=[house.slug]))
    rows = [row for row in takeoff.context["takeoff"].rows if row["purpose"] == "door latches"]
    assert [(row["material_name"], row["quantity"]) for row in rows] == [("Gate latch", 2)]
    assert "1 door in the front end + 1 door in the back end, a latch for each: 2" in text_of(takeoff)


def test_what_must_be_known_of_a_house_stands_on_its_page_and_take_off(signed_in, organisation, house):
    pages = [house.get_absolute_url(), reverse("sites:takeoff", args=[house.slug])]
    assert not any("stands loose" in text_of(signed_in.get(page)) for page in pages)
    house.post_material = MaterialFactory(organisation=organisation, name="Wide pipe", width=Decimal("60.325"))
    house.save()
    for page in pages:
        shown = text_of(signed_in.get(page))
        assert "Know this before you build:" in shown
        assert "Ground post tube: The hoop stands loose: Wide pipe is 2.245&quot; wide inside" in shown


def test_a_house_gets_roll_up_curtains_by_its_form(signed_in, organisation, house):
    """48 ft long, 13 hoops: 2 curtains, 3 sticks of 21 ft a side, 2 cranks, 26 guides."""
    crank = MaterialFactory(organisation=organisation, kind="hardware", code="crank", name="Hand crank")
    guide = MaterialFactory(organisation=organisation, kind="hardware", code="guide", name="Guide strap")
    sent = edit_data(signed_in, house) | {"side_closing": "curtain"}
    refused = signed_in.post(reverse("sites:house-edit", args=[house.slug]), sent).context["form"]
    materials = {f"curtain_{part}_material" for part in ("film", "pipe", "crank", "guide")}
    assert set(refused.errors) == {"curtain_spare", "curtain_pipe_stick_length"} | materials
    sent |= {
        "curtain_spare": "9",
        "curtain_pipe_stick_length": "21'",
        "curtain_pipe_insertion": "4",
        "curtain_film_material": str(house.film_material.pk),
        "curtain_pipe_material": str(house.recipe.tube.pk),
        "curtain_crank_material": str(crank.pk),
        "curtain_guide_material": str(guide.pk),
    }
    assert signed_in.post(reverse("sites:house-edit", args=[house.slug]), sent).status_code == 302
    takeoff = signed_in.get(reverse("sites:takeoff", args=[house.slug])).context["takeoff"]
    found = {row["purpose"]: row["quantity"] for row in takeoff.rows if row["purpose"].split()[-1] in CURTAIN}
    assert found == {"side curtains": 2, "curtain pipes": 6, "curtain cranks": 2, "curtain guides": 26}
    page = text_of(signed_in.get(house.get_absolute_url()))
    assert "Width of a side curtain" in page and "Film to the hip boards, a roll-up curtain below" in page


def test_a_metric_organisation_reads_metres_first(signed_in, organisation, house):
    organisation.unit_system = "metric"
    organisation.save()
    page = text_of(signed_in.get(house.get_absolute_url()))
    assert "post span 3\u202f658 mm · 12&#x27;" in page


def test_a_stored_house_that_can_no_longer_be_built_says_why(signed_in, house):
    house.recipe.radius = Decimal(600)
    house.recipe.save()
    page = text_of(signed_in.get(house.get_absolute_url()))
    assert "It cannot be built as it is specified." in page
    assert "Hoop recipe: This recipe bends a hoop" in page
    takeoff = signed_in.get(reverse("sites:takeoff", args=[house.slug]))
    assert "cannot be built" in text_of(takeoff)
    sheet = signed_in.get(reverse("sites:takeoff-spreadsheet", args=[house.slug]))
    assert sheet.status_code == 302


def test_the_takeoff_page_shows_every_row_with_its_working(signed_in, house):
    response = signed_in.get(reverse("sites:takeoff", args=[house.slug]))
    page = text_of(response)
    assert "26 sticks for 13 hoops" in page
    rows = response.context["takeoff"].rows
    assert page.count('<details class="working">') == len(rows) > 15
    for row in rows:
        assert row["working"].split(";")[0].replace("'", "&#x27;").replace('"', "&quot;") in page
    totals = {(row["material"], row["whole"], row["length"]): row for row in response.context["takeoff"].totals}
    assert totals["rail-1-3-8", True, FOOT * 10]["quantity"] == 26
    assert sum(row["quantity"] for row in totals.values()) == sum(row["quantity"] for row in rows)


def test_the_takeoff_comes_as_a_spreadsheet(signed_in, house):
    response = signed_in.get(reverse("sites:takeoff-spreadsheet", args=[house.slug]))
    assert response["Content-Disposition"] == 'attachment; filename="takeoff-north-field-2.xlsx"'
    book = load_workbook(BytesIO(response.content))
    cells = [cell.value for row in book.worksheets[0].iter_rows() for cell in row]
    assert "North Field 2" in cells
    assert 26 in cells


def test_a_starter_becomes_a_house(signed_in, organisation, site):
    chooser = signed_in.get(reverse("sites:house-new"))
    assert all(starter.name in text_of(chooser) for starter in starters_in("imperial"))
    form_address = reverse("sites:house-create", args=["20-ft-house"])
    assert signed_in.get(form_address)["Location"] == reverse("sites:house-new")

    chosen = signed_in.post(reverse("sites:house-new"), {"starter": "20-ft-house", "site": site.slug})
    assert chosen["Location"] == f"{form_address}?site={site.slug}"
    assert Material.objects.of(organisation).filter(code="film-6mil-40ft").exists()

    form = signed_in.get(chosen["Location"]).context["form"]
    data = sent_by(form) | {"name": "Creek Bottom 1", "need_date": "2027-05-03"}
    assert data["post_span"] == "20'"
    assert data["site"] == str(site.pk)
    made = signed_in.post(form_address, data)
    assert made["Location"] == "/houses/creek-bottom-1/"
    assert House.objects.of(organisation).get().length == FOOT * 72


def test_without_a_site_the_first_step_is_a_site(signed_in):
    page = text_of(signed_in.get(reverse("sites:house-new")))
    assert reverse("sites:site-new") in page
    assert '<button class="action" name="starter"' not in page


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"length": "twelve"}, "length", "cannot be read"),
        ({"length": "-12'"}, "length", "below zero"),
        ({"length": "0"}, "length", "at least 1'"),
        ({"length": str(10**12)}, "length", "longer than any stick or house"),
        ({"length": ""}, "length", "Type how long the house is"),
        ({"length": "दस फुट"}, "length", "cannot be read"),
        ({"spacing_wanted": "60'"}, "spacing_wanted", "60'"),
        ({"post_span": "25'"}, "post_span", "19' 8\""),
        ({"post_length": '18"', "post_depth": '24"'}, "post_length", "2'"),
        ({"anchor_count": str(10**12)}, "anchor_count", "from 0 to 1000"),
        ({"anchor_count": "-1"}, "anchor_count", "from 0 to 1000"),
        ({"anchor_count": "four"}, "anchor_count", "whole number"),
        ({"front_door_width": "20'"}, "front_door_width", "12'"),
        ({"front_door_height": "12'"}, "front_door_height", "12'"),
        ({"hip_board_lengths": "2', ok"}, "hip_board_lengths", "ok"),
        ({"hip_board_lengths": "2'"}, "hip_board_lengths", "4'"),
        ({"film_side_allowance": "9'"}, "film_material", "24'"),
        # The ends of the hoop are 18 in up; 19' 8" of hoop and 2 x 18 in are 22' 8".
        ({"film_side_allowance": '16"'}, "film_side_allowance", "Type at least 1' 6\", which takes film 22' 8\" wide"),
        ({"side_closing": "shut"}, "side_closing", "Choose one from the list"),
        ({"side_closing": ""}, "side_closing", "Choose how the sides close."),
        ({"post_socket_depth": '24"'}, "post_socket_depth", "Type less than 2'"),
        ({"post_socket_depth": "-1"}, "post_socket_depth", "cannot be below zero"),
        ({"post_socket_depth": "deep"}, "post_socket_depth", "cannot be read"),
        ({"post_socket_depth": "99999999'"}, "post_socket_depth", "longer than any stick or house"),
        # A rail of 1.375 in with a wall of 0.065 in, and a post of 1.66 in.
        ({"hoop_over_post": True}, "post_material", '1.245" wide inside'),
        ({"side_purlins": "3"}, "side_purlins", "2 or 4"),
        ({"need_date": "next spring"}, "need_date", "2027-05-03"),
        ({"need_date": "0001-01-01"}, "need_date", "2000"),
        ({"name": ""}, "name", "what the house is called"),
        ({"recipe": "999999"}, "recipe", "Choose one from the list"),
    ],
)
def test_bad_input_is_refused_at_its_field_and_kept(signed_in, house, change, field, says):
    before = House.objects.values().get()
    address = reverse("sites:house-edit", args=[house.slug])
    response = signed_in.post(address, edit_data(signed_in, house) | change)
    assert response.status_code == 200
    form = response.context["form"]
    assert set(form.errors) == {field}
    assert says in " ".join(form.errors[field])
    for name, typed in change.items():
        assert form[name].value() == typed
    assert House.objects.values().get() == before


def test_the_words_are_in_the_readers_units(signed_in, organisation, house):
    organisation.unit_system = "metric"
    organisation.save()
    address = reverse("sites:house-edit", args=[house.slug])
    response = signed_in.post(address, edit_data(signed_in, house) | {"spacing_wanted": "20 m"})
    assert "20\u202f000 mm" in " ".join(response.context["form"].errors["spacing_wanted"])


def test_editing_without_a_change_changes_no_size(signed_in, house):
    before = House.objects.values().get()
    address = reverse("sites:house-edit", args=[house.slug])
    assert signed_in.post(address, edit_data(signed_in, house)).status_code == 302
    after = House.objects.values().get()
    changed = {name for name in before if before[name] != after[name]}
    assert changed <= {"saved_at", "saved_by_id"}


def test_an_exact_metric_size_survives_an_imperial_form(signed_in, house):
    House.objects.update(length=Decimal("14630.123456"))
    address = reverse("sites:house-edit", args=[house.slug])
    signed_in.post(address, edit_data(signed_in, house))
    assert House.objects.get().length == Decimal("14630.123456")


def test_empty_optional_lengths_are_none(signed_in, house):
    address = reverse("sites:house-edit", args=[house.slug])
    data = edit_data(signed_in, house) | {"brace_count": "0", "brace_length": "", "brace_material": ""}
    assert signed_in.post(address, data).status_code == 302
    assert House.objects.get().brace_length == 0


def test_a_name_in_another_script_gets_an_address(signed_in, house):
    address = reverse("sites:house-copy", args=[house.slug])
    data = {"site": house.site_id, "name": "北の畑", "need_date": "2027-06-01", "copies": "2", "days_apart": "0"}
    assert signed_in.post(address, data).status_code == 302
    made = House.objects.exclude(pk=house.pk).order_by("pk")
    assert [(row.name, row.slug) for row in made] == [("北の畑", "house"), ("北の畑 2", "2")]
    assert "北の畑" in text_of(signed_in.get(made[0].get_absolute_url()))


def test_names_are_shown_as_text(signed_in, house):
    House.objects.update(name="<script>alert(1)</script>")
    page = signed_in.get(house.get_absolute_url()).content.decode()
    assert "<script>alert" not in page


def test_one_copy_opens_and_several_are_listed(signed_in, house):
    address = reverse("sites:house-copy", args=[house.slug])
    form = signed_in.get(address).context["form"]
    assert form["name"].value() == "North Field 3"
    data = sent_by(form)
    assert signed_in.post(address, data)["Location"] == "/houses/north-field-3/"
    answer = signed_in.post(address, data | {"name": "North Field 4", "copies": "3", "days_apart": "7"})
    assert answer["Location"] == "/houses/"
    assert House.objects.count() == 5
    wrong = signed_in.post(address, data | {"copies": "51"})
    assert "from 1 to 50" in " ".join(wrong.context["form"].errors["copies"])


def test_archived_houses_are_shown_on_request_alone(signed_in, house):
    address = reverse("sites:houses")
    signed_in.post(reverse("sites:house-archive", args=[house.slug]))
    page = text_of(signed_in.get(address)).split("</main>")[0]
    assert "North Field 2" not in page.split("is archived.")[-1]
    assert "North Field 2" in text_of(signed_in.get(address, {"archived": "1"}))
    assert "Archived since" in text_of(signed_in.get(house.get_absolute_url()))
    signed_in.post(reverse("sites:house-bring-back", args=[house.slug]))
    assert "1 house;" in text_of(signed_in.get(address))


def test_a_house_of_an_archived_site_does_not_come_back_alone(signed_in, organisation, user, house):
    archive_house(organisation=organisation, user=user, house=house)
    archive_site(organisation=organisation, user=user, site=house.site)
    answer = signed_in.post(reverse("sites:house-bring-back", args=[house.slug]), follow=True)
    assert "Bring the site back first." in text_of(answer)
    house.refresh_from_db()
    assert house.archived_at is not None


def test_houses_are_filtered_by_site(signed_in, organisation, house):
    other = HouseFactory(site=SiteFactory(organisation=organisation), name="Elsewhere 1")
    page = text_of(signed_in.get(reverse("sites:houses"), {"site": "north-field"}))
    assert "North Field 2" in page
    assert other.name not in page
    assert signed_in.get(reverse("sites:houses"), {"site": "nowhere"}).status_code == 404


# Sites


def test_a_site_is_made_edited_and_copied(signed_in, organisation, house):
    made = signed_in.post(reverse("sites:site-new"), {"name": "Creek Bottom", "address": "3 Invented Road"})
    assert made["Location"] == "/sites/creek-bottom/"
    edit = reverse("sites:site-edit", args=["creek-bottom"])
    assert signed_in.post(edit, {"name": "Creek", "address": "4 Invented Road"}).status_code == 302
    assert Site.objects.get(slug="creek-bottom").address == "4 Invented Road"
    refused = signed_in.post(edit, {"name": ""})
    assert "Type what the site is called" in text_of(refused)
    copy = reverse("sites:site-copy", args=["north-field"])
    assert signed_in.post(copy, {"name": "South Field", "with_houses": "on"})["Location"] == "/sites/south-field/"
    assert House.objects.get(site__slug="south-field").name == "South Field 2"


def test_days_of_need_that_are_past_are_not_said_to_come(signed_in, house):
    today = today_of(organisation=house.site.organisation)
    soon = today + timedelta(days=9)
    House.objects.update(need_date=soon)
    HouseFactory(site=house.site, recipe=house.recipe, post_material=house.post_material, need_date="2020-05-03")
    for address in ("/houses/", house.site.get_absolute_url()):
        assert f"2 houses; next materials needed by {day(soon)}." in text_of(signed_in.get(address))
    House.objects.update(need_date=today - timedelta(days=1))
    assert "2 houses." in text_of(signed_in.get("/houses/"))
    assert "2 houses; no day of need lies ahead." in text_of(signed_in.get(house.site.get_absolute_url()))


def test_a_site_of_many_houses_leads_to_all_of_them(signed_in, house):
    HouseFactory.create_batch(60, site=house.site, recipe=house.recipe, post_material=house.post_material)
    page = text_of(signed_in.get(house.site.get_absolute_url()))
    assert page.count('<svg class="house-plan"') == 25
    assert '<a class="button" href="/houses/?site=north-field">All 61 houses</a>' in page


def test_an_archived_site_comes_back(signed_in, house):
    signed_in.post(reverse("sites:site-archive", args=["north-field"]))
    assert "0 houses." in text_of(signed_in.get(reverse("sites:houses")))
    assert "North Field" in text_of(signed_in.get(reverse("sites:sites"), {"archived": "1"}))
    signed_in.post(reverse("sites:site-bring-back", args=["north-field"]))
    assert "1 house;" in text_of(signed_in.get(reverse("sites:houses")))


@pytest.mark.parametrize(
    ("name", "says", "first"),
    [
        ("sites:houses", "Each house that you will put up", "sites:house-new"),
        ("sites:sites", "A site is a field or yard", "sites:site-new"),
        ("hoops:recipes", "A recipe says how one hoop is made", "hoops:recipe-new"),
    ],
)
def test_empty_pages_say_what_belongs_there_and_offer_the_first_step(signed_in, name, says, first):
    page = text_of(signed_in.get(reverse(name)))
    assert says in page
    assert reverse(first) in page


# Whose rows

HOUSE_PAGES = ["house", "house-edit", "house-copy", "takeoff", "takeoff-spreadsheet"]
HOUSE_POSTS = ["house-edit", "house-copy", "house-archive", "house-bring-back"]
SITE_PAGES = ["site", "site-edit", "site-places", "site-copy"]
SITE_POSTS = ["site-edit", "site-places", "site-copy", "site-archive", "site-bring-back"]


@pytest.fixture
def stranger(client, db):
    """Someone of another organisation."""
    client.force_login(MembershipFactory().user)
    return client


@pytest.mark.parametrize("name", HOUSE_PAGES + SITE_PAGES)
def test_no_page_shows_another_organisations_row(stranger, house, name):
    slug = house.site.slug if name in SITE_PAGES else house.slug
    assert stranger.get(reverse(f"sites:{name}", args=[slug])).status_code == 404


@pytest.mark.parametrize("name", HOUSE_POSTS + SITE_POSTS)
def test_nothing_changes_another_organisations_row(stranger, house, name):
    before = (list(House.objects.values()), list(Site.objects.values()))
    slug = house.site.slug if name in SITE_POSTS else house.slug
    assert stranger.post(reverse(f"sites:{name}", args=[slug]), {"name": "Mine"}).status_code == 404
    assert (list(House.objects.values()), list(Site.objects.values())) == before


def test_lists_and_choices_hold_own_rows_alone(stranger, house):
    assert "North Field" not in text_of(stranger.get(reverse("sites:houses")))
    assert "North Field" not in text_of(stranger.get(reverse("sites:sites")))
    assert stranger.get(reverse("sites:houses"), {"site": "north-field"}).status_code == 404


def test_a_row_of_another_organisation_cannot_be_chosen(signed_in, house):
    address = reverse("sites:house-edit", args=[house.slug])
    foreign = {"recipe": RecipeFactory().pk, "site": SiteFactory().pk}
    for field, pk in foreign.items():
        response = signed_in.post(address, edit_data(signed_in, house) | {field: pk})
        assert set(response.context["form"].errors) == {field}


@pytest.mark.parametrize("name", ["houses", "sites", "house-new"])
def test_pages_ask_for_a_sign_in(client, db, name):
    assert client.get(reverse(f"sites:{name}"))["Location"].startswith("/sign-in/")


@pytest.mark.parametrize("name", ["house-archive", "house-bring-back"])
def test_changing_addresses_do_not_answer_to_a_link(signed_in, house, name):
    assert signed_in.get(reverse(f"sites:{name}", args=[house.slug])).status_code == 405


# How many questions to the database


def queries(client, address: str) -> int:
    with CaptureQueriesContext(connection) as seen:
        assert client.get(address).status_code == 200
    return len(seen)


def many(house: House, count: int) -> None:
    """So many more houses and sites, without going through the services."""
    organisation = house.organisation
    sites = Site.objects.bulk_create(
        Site(organisation=organisation, name=f"Site {n}", slug=f"many-{n}") for n in range(count)
    )
    House.objects.bulk_create(
        House(
            organisation=organisation,
            site=sites[n],
            recipe=house.recipe,
            name=f"House {n}",
            slug=f"many-{n}",
            need_date=date(2027, 6, 1),
            post_span=house.post_span,
            length=house.length,
            spacing_wanted=house.spacing_wanted,
        )
        for n in range(count)
    )


@pytest.mark.parametrize("address", ["/houses/", "/houses/?site=north-field", "/houses/?archived=1", "/sites/"])
def test_lists_ask_no_more_for_more_rows(signed_in, house, address):
    many(house, 10)
    signed_in.get(reverse("sites:sites"))
    first = queries(signed_in, address)
    few = queries(signed_in, address)
    House.objects.filter(slug__startswith="many-").delete()
    Site.objects.filter(slug__startswith="many-").delete()
    many(house, 1200)
    # What is kept of the page is worked out anew of other rows, and then asks for nothing but what they say.
    assert queries(signed_in, address) == first <= 32
    assert queries(signed_in, address) == few <= 12


def test_a_house_page_asks_little(signed_in, house):
    # Materials, the list of a first season, what changed last and what a customer agreed to are one each, and the house
    # is looked for alone; four say what the rows are, before and after.
    assert queries(signed_in, house.get_absolute_url()) <= 18
    assert queries(signed_in, reverse("sites:takeoff", args=[house.slug])) <= 10


def test_dimensions_of_the_house_lead_to_their_working(signed_in, house):
    page = text_of(signed_in.get(house.get_absolute_url()))
    led = set(re.findall(r'<a href="#(working-[a-z]+)"', page))
    assert led == {
        "working-ridge",
        "working-rise",
        "working-foot",
        "working-spacing",
        "working-hoops",
        "working-spring",
    }
    for anchor in led:
        assert page.count(f'<div id="{anchor}"><p>') == 1
    assert 'aria-label="ridge 7&#x27; 10 7/8&quot; · 2\u202f411 mm: how it was worked out"' in page
    # On the take-off, which has no workings, they lead nowhere.
    assert "#working-" not in text_of(signed_in.get(reverse("sites:takeoff", args=[house.slug])))


def test_ends_are_drawn_once_where_they_are_equal_and_each_where_not(signed_in, house):
    page = text_of(signed_in.get(house.get_absolute_url()))
    assert page.count("<figcaption>Both ends.</figcaption>") == 1 and "<figcaption>The front" not in page
    House.objects.filter(pk=house.pk).update(back_door_count=0)
    page = text_of(signed_in.get(house.get_absolute_url()))
    assert "Both ends" not in page
    assert "<figcaption>The front end.</figcaption>" in page and "<figcaption>The back end.</figcaption>" in page
