"""Pages of batches: what they say first, what they refuse at the field, whose rows they show."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.orgs.addresses import split_address
from tests.factories import FOOT, INCH, HouseFactory, LotFactory, MembershipFactory, RecipeFactory, SiteFactory
from tests.hoops.batches.making import TARGET, make_bender, make_shop

pytestmark = pytest.mark.django_db


def page(name: str, *args: object) -> str:
    return reverse(f"hoops:{name}", args=args)


def text_of(response) -> str:
    return " ".join(response.content.decode().split()).replace("&#x27;", "'").replace("&quot;", '"')


@pytest.fixture
def house(shop):
    site = SiteFactory(organisation=shop.organisation)
    return HouseFactory(site=site, recipe=shop.batch.recipe, name="North 1", slug="north-1")


def sent(shop, **changes) -> dict[str, str]:
    values = {
        "bender": str(shop.batch.bender.pk), "quantity": "13", "post_span": "12'", "spring_in": '13 1/2"',
        "span_tolerance": '2"', "rise_tolerance": '2"', "twist_tolerance": '2"',
    }  # fmt: skip
    return values | changes


def measured(**changes) -> dict[str, str]:
    return {"free_span": "13' 1 1/2\"", "rise": "6' 1\"", "last_gap": "", "twist": "", "note": ""} | changes


def test_a_house_page_leads_to_its_batch_filled_in(signed_in, shop, house):
    shown = text_of(signed_in.get(house.get_absolute_url()))
    address = f"{page('batch-new')}?house=north-1"
    assert f'href="{address}"' in shown
    form = signed_in.get(address).context["form"]
    shown = {name: form[name].value() for name in ("quantity", "post_span", "spring_in", "share_north-1")}
    assert shown == {"quantity": 13, "post_span": "12'", "spring_in": '13 1/2"', "share_north-1": 13}
    made = signed_in.post(address, sent(shop, **{"share_north-1": "13"}))
    assert made["Location"] == page("batch", 2)
    again = signed_in.get(address)
    assert again.context["form"].fields["share_north-1"].help_text == "It has 13 hoops, 13 in other batches."


def test_a_batch_goes_from_trial_to_done_by_its_large_button(signed_in, shop):
    batch = page("batch", 1)

    def status() -> tuple[str, str]:
        found = signed_in.get(batch).context["status"]
        return found.answer, split_address(found.step.url)[1]

    answer, url = status()
    assert answer == (
        'Batch 1: trial hoop not accepted yet. It takes 2 sticks; bend it with a stop gap of 1", and measure it'
        " before bending the other 12."
    )
    assert signed_in.get(url).context["form"]["quantity"].value() == 2
    signed_in.post(url, {"lot": shop.lot.pk, "quantity": "2"})
    answer, url = status()
    assert url == page("batch-trial", 1)
    bad = signed_in.post(url, measured(free_span="12' 6\"", rise="6' 3\""))
    assert bad["Location"] == page("batch-attempt", 1, 1)
    shown = signed_in.get(bad["Location"])
    assert 'over-bent by 7 1/2"' in text_of(shown)
    assert not shown.context["can_accept"]
    answer, url = status()
    assert answer == (
        "Batch 1: trial hoop not accepted yet. Number 1 was over-bent. See what to change before bending the other 12."
    )
    assert url == page("batch-attempt", 1, 1)
    signed_in.post(page("batch-attempt-spoilt", 1, 1), {"quantity": "2", "reason": "bent too far"})
    signed_in.post(page("batch-correct", 1, 1))
    assert status()[1] == page("batch-issue", 1)
    signed_in.post(page("batch-issue", 1), {"lot": shop.lot.pk, "quantity": "2"})
    assert 'so bend one with a stop gap of 1 3/16"' in status()[0]
    good = signed_in.post(page("batch-trial", 1), measured())
    shown = signed_in.get(good["Location"])
    assert shown.context["can_accept"]
    assert "Accept this trial hoop" in text_of(shown)
    assert status()[1] == good["Location"]
    assert shop.now().state == "trial", "measuring alone accepts nothing"
    signed_in.post(page("batch-accept", 1, 2))
    assert status()[0] == 'Batch 1 is proven: 1 of 13 hoops bent, 12 to go, stop gap 1 3/16".'
    signed_in.post(page("batch-issue", 1), {"lot": shop.lot.pk, "quantity": "26"})
    signed_in.post(page("batch-bent", 1), {"hoops": "12", "note": ""})
    assert status() == ("Batch 1: all 13 hoops are bent. 2 sticks are not bent.", page("batch-give-back", 1))
    signed_in.post(page("batch-give-back", 1), {"lot": shop.lot.pk, "quantity": "2"})
    assert status()[1] == page("batch-finish", 1)
    signed_in.post(page("batch-finish", 1))
    assert status()[0] == "Batch 1 is done: 13 hoops bent."
    shop.lot.refresh_from_db()
    assert shop.lot.on_hand == 60 - 28


def test_the_page_says_no_at_the_gate(signed_in, shop):
    refused = signed_in.post(page("batch-issue", 1), {"lot": shop.lot.pk, "quantity": "3"})
    assert "gets the 2 sticks of one hoop" in refused.context["form"].errors["quantity"][0]
    refused = signed_in.post(page("batch-bent", 1), {"hoops": "1", "note": ""})
    assert "No hoop of Batch 1 can be recorded" in text_of(refused)
    assert (shop.now().sticks_issued, shop.batch.hoops_bent) == (0, 0)


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"free_span": "20'"}, "free_span", "19' 8\" long"),
        ({"free_span": ""}, "free_span", "type it, for example"),
        ({"free_span": "0"}, "free_span", "Type the span"),
        ({"free_span": "13' 40 mm"}, "free_span", "cannot be mixed"),
        ({"free_span": str(10**12)}, "free_span", "longer than any stick"),
        ({"free_span": "-13'"}, "free_span", "below zero"),
        ({"rise": "9'"}, "rise", "cannot rise more than"),
        ({"rise": "high"}, "rise", "cannot be read"),
        ({"last_gap": "2'"}, "last_gap", "leaves nothing of a pull"),
        ({"twist": "1 m 2 mm"}, "twist", "cannot be mixed"),
        ({"note": "x" * 201}, "note", "at most 200"),
    ],
)
def test_a_measure_that_cannot_be_is_refused_at_its_field_and_kept(signed_in, shop, change, field, says):
    shop.issue(2)
    response = signed_in.post(page("batch-trial", 1), measured(**change))
    form = response.context["form"]
    assert set(form.errors) == {field}
    assert says in " ".join(form.errors[field])
    assert all(form[name].value() == typed for name, typed in change.items())
    assert not TrialHoop.objects.exists()


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"post_span": "19' 8\""}, "post_span", "nothing is left to bend"),
        ({"post_span": "0"}, "post_span", 'at least 1"'),
        ({"post_span": str(10**12)}, "post_span", "longer than any stick"),
        ({"spring_in": "7' 8\""}, "spring_in", "Type less than 7' 8\""),
        ({"spring_in": "12 in 3 mm"}, "spring_in", "cannot be mixed"),
        ({"quantity": "0"}, "quantity", "from 1 to 10,000"),
        ({"quantity": str(10**12)}, "quantity", "from 1 to 10,000"),
        ({"quantity": "12"}, "quantity", "Type at least 13"),
        ({"share_north-1": "many"}, "share_north-1", "whole number"),
        ({"bender": ""}, "bender", "Choose the bender"),
    ],
)
def test_a_batch_that_cannot_be_is_refused_at_its_field_and_kept(signed_in, shop, house, change, field, says):
    typed = sent(shop, **{"share_north-1": "13"}) | change
    response = signed_in.post(f"{page('batch-new')}?house=north-1", typed)
    form = response.context["form"]
    assert set(form.errors) == {field}
    assert says in " ".join(form.errors[field])
    assert all(form[name].value() == value for name, value in change.items())
    assert HoopBatch.objects.count() == 1


def test_warnings_are_read_before_the_batch_is_made(signed_in, shop):
    address = f"{page('batch-new')}?recipe=hoop-12-ft"
    typed = sent(shop, spring_in="3'")
    warned = signed_in.post(address, typed)
    assert "Another span." in text_of(warned)
    assert set(warned.context["form"].errors) == {"go_on"}
    assert HoopBatch.objects.count() == 1
    made = signed_in.post(address, typed | {"go_on": "on"})
    assert "Another span." in text_of(signed_in.get(made["Location"]))


def test_without_bender_or_recipe_the_first_step_is_offered(client, organisation, user):
    client.force_login(user)
    assert "There is no recipe to bend yet." in text_of(client.get(page("batch-new")))
    RecipeFactory(organisation=organisation, slug="hoop")
    assert "?recipe=hoop" in client.get(page("batch-new"))["Location"]
    shown = text_of(client.get(f"{page('batch-new')}?recipe=hoop"))
    assert "There is no bender to bend it on yet." in shown
    assert page("bender-new") in shown
    assert "No batch of hoops yet." in text_of(client.get(page("batches")))


def test_a_shop_without_sticks_is_sent_to_receive_some(signed_in, shop):
    services.issue_sticks(**shop.on, lot=shop.lot, quantity=2)
    type(shop.lot).objects.update(on_hand=0)
    assert "Receive sticks" in text_of(signed_in.get(page("batch-issue", 1)))


def everything(number: int, attempt: int) -> list[tuple[str, str]]:
    forms = ["batch-issue", "batch-give-back", "batch-spoilt", "batch-trial", "batch-bent", "batch-finish"]
    shown = ["batch", *forms, "batch-sheet", "batch-sheet-pdf"]
    pressed = ["batch-accept", "batch-correct"]
    of_trial = ["batch-attempt", "batch-attempt-spoilt"]
    return [
        *[("get", page(name, number)) for name in shown],
        *[("post", page(name, number)) for name in forms],
        *[("get", page(name, number, attempt)) for name in of_trial],
        *[("post", page(name, number, attempt)) for name in [*pressed, "batch-attempt-spoilt"]],
    ]


def test_another_organisations_batches_are_not_there(client, shop, house):
    shop.issue(2)
    shop.measure(TARGET)
    stranger = MembershipFactory()
    client.force_login(stranger.user)
    asked = [f"{page('batch-new')}?{what}" for what in ("house=north-1", "recipe=hoop-12-ft")]
    addresses = [
        *everything(1, 1),
        ("get", page("recipe-sheet", "hoop-12-ft")),
        ("get", page("recipe-sheet-pdf", "hoop-12-ft")),
        *[(how, address) for how in ("get", "post") for address in asked],
    ]
    found = {address: getattr(client, how)(address).status_code for how, address in addresses}
    assert set(found.values()) == {404}, found
    assert "No batch of hoops yet." in text_of(client.get(page("batches")))
    assert shop.now().state == "trial"


def test_rows_of_another_organisation_cannot_be_chosen(signed_in, shop, house):
    stranger = MembershipFactory()
    foreign = make_bender(stranger.organisation)
    refused = signed_in.post(f"{page('batch-new')}?house=north-1", sent(shop, bender=str(foreign.pk)))
    assert "bender" in refused.context["form"].errors
    refused = signed_in.post(page("batch-issue", 1), {"lot": LotFactory().pk, "quantity": "1"})
    assert "lot" in refused.context["form"].errors


def test_two_organisations_have_a_batch_of_one_number_each(client, shop):
    member = MembershipFactory()
    other = make_shop(member.organisation, member.user)
    client.force_login(member.user)
    assert client.get(page("batch", 1)).context["batch"] == other.batch


def test_buttons_are_pressed_not_visited(signed_in, shop):
    shop.issue(2)
    shop.measure(TARGET)
    for name in ("batch-accept", "batch-correct"):
        assert signed_in.get(page(name, 1, 1)).status_code == 405
    assert shop.now().state == "trial"


def test_a_refused_press_says_why(signed_in, shop):
    shop.issue(2)
    shop.measure(INCH * 140)
    said = text_of(signed_in.post(page("batch-accept", 1, 1), follow=True))
    assert "This trial hoop is not within the tolerance." in said


def test_strangers_are_sent_to_sign_in(client, shop):
    for how, address in everything(1, 1):
        assert getattr(client, how)(address).status_code in (302, 404), address
        assert "/sign-in/" in getattr(client, how)(address).headers.get("Location", "/sign-in/")


def queries(client, address: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as caught:
        assert client.get(address).status_code == 200
    return len(caught)


def test_lists_ask_the_same_however_long_they_are(signed_in, shop):
    queries(signed_in, page("batches"))
    few = queries(signed_in, page("batches"))
    for number in range(2, 20):
        HoopBatch.objects.create(
            organisation=shop.organisation, number=number, recipe=shop.batch.recipe, bender=shop.batch.bender,
            quantity=3, post_span=FOOT * 12, sticks_a_hoop=2, stop_gap=INCH,
        )  # fmt: skip
    assert queries(signed_in, page("batches")) == few


def test_a_batch_page_asks_the_same_however_much_was_done(signed_in, shop, house):
    shop.prove()
    shop.issue(2)
    services.record_bent(**shop.on, hoops=1)
    few = queries(signed_in, page("batch", 1))
    for _ in range(5):
        shop.issue(2)
        services.record_bent(**shop.on, hoops=1)
    assert queries(signed_in, page("batch", 1)) == few


def test_what_people_type_is_shown_as_text(signed_in, shop):
    shop.issue(2)
    shop.measure(TARGET, note="<b>bold</b>")
    assert "<b>bold</b>" not in signed_in.get(page("batch-attempt", 1, 1)).content.decode()


def test_averages_show(signed_in, shop):
    shop.prove()
    shown = text_of(signed_in.get(page("batches")))
    assert "Trial hoops until one is right" in shown
    assert "1.0" in shown
