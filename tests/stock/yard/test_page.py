"""The page of a yard: what each line is understood as, what is asked beside it, and that it is added once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from farmbuild.catalogue.models import Material
from farmbuild.stock.models import Lot, Movement, Place
from farmbuild.stock.yard.services import REASON, Piled, add_yard, stand_of
from tests.factories import FOOT, INCH, MaterialFactory, OfferFactory, RecipeFactory, SupplierFactory
from tests.reading import text_of

EIGHT = 8


@pytest.fixture
def rail(organisation):
    return MaterialFactory(organisation=organisation, code="rail", name="1-3/8 rail")


@pytest.fixture
def screw(organisation):
    return MaterialFactory(organisation=organisation, code="screw", name="#12 screw", kind="fastener")


def sell(material, length, price):
    supplier = SupplierFactory(organisation=material.organisation, name="Hilltop (invented)")
    offer = OfferFactory(organisation=material.organisation, supplier=supplier, material=material, length=length)
    offer.breaks.all().delete()
    offer.breaks.create(from_quantity=1, unit_price=Decimal(price))
    return offer


def look(client, lines: str, **more: str):
    sent = {"place_name": "Barn rack", "site": "", "lines": lines, "look": "1"}
    return client.post(reverse("stock:yard"), sent | more)


def add(client, shown, lines: str, **more: str):
    """Press the button of the page that was shown, all its boxes as they stand there."""
    form = shown.context["form"]
    boxes = {name: form[name].value() or "" for name in form.fields if name != "sure"}
    sent = boxes | {"lines": lines, "seen": form.asked_now, "add": "1"} | more
    return client.post(reverse("stock:yard"), sent)


@pytest.mark.django_db
def test_a_yard_is_shown_first_and_then_added_whole(signed_in, organisation, rail, screw):
    sell(rail, FOOT * 10, "8.40")
    sell(screw, None, "0.05")
    lines = "31 sticks of 1-3/8\noffcuts 1-3/8: 4'2\" 3x 5'\n500 screws"
    shown = look(signed_in, lines)
    page = text_of(shown)
    assert "3 lines understood" in page
    assert "31 sticks of 10&#x27;" in page
    assert "1 offcut of 4&#x27; 2&quot;; 3 offcuts of 5&#x27; (each an offcut)" in page
    assert "From the offer of Hilltop (invented)." in page
    assert not Lot.objects.exists()
    added = add(signed_in, shown, lines)
    assert added["Location"] == reverse("stock:lots")
    lots = {(lot.material, lot.length, lot.offcut): (lot.on_hand, lot.unit_cost) for lot in Lot.objects.all()}
    assert lots == {
        # By its length: 50 in of a 120 in stick of $8.40.
        (rail, FOOT * 10, False): (31, Decimal("8.40")),
        (rail, INCH * 50, True): (1, Decimal("3.50")),
        (rail, FOOT * 5, True): (3, Decimal("4.20")),
        (screw, None, False): (500, Decimal("0.05")),
    }
    assert {(row.kind, row.reason) for row in Movement.objects.all()} == {(Movement.Kind.COUNT, REASON)}
    assert all(sum(row.quantity for row in lot.movements.all()) == lot.on_hand for lot in Lot.objects.all())
    assert {lot.place.name for lot in Lot.objects.all()} == {"Barn rack"}


@pytest.mark.django_db
def test_what_fits_several_is_chosen_at_its_line_and_nothing_is_lost(signed_in, organisation, rail):
    light = MaterialFactory(organisation=organisation, code="light", name="1-3/8 rail, light")
    lines = "31 1-3/8 10'\n4 1-3/8 12'"
    shown = look(signed_in, lines)
    assert text_of(shown).count("Several materials fit. Choose which it is.") == 2
    assert shown.context["form"]["lines"].value() == lines
    [choice] = [name for name in shown.context["form"].fields if name.startswith("material_")]
    refused = add(signed_in, shown, lines)
    assert "Several materials fit" in text_of(refused)
    assert not Lot.objects.exists()
    asked = add(signed_in, refused, lines, **{choice: str(light.pk)})
    assert "Type what one is worth; 0 where it is worth nothing." in text_of(asked)
    assert add(signed_in, asked, lines, **{f"cost_{light.pk}": "0"}).status_code == 302
    assert {(lot.material, lot.on_hand, lot.unit_cost) for lot in Lot.objects.all()} == {(light, 31, 0), (light, 4, 0)}


@pytest.mark.django_db
def test_the_one_that_is_bought_or_bent_stands_chosen(signed_in, organisation, rail):
    light = MaterialFactory(organisation=organisation, code="light", name="1-3/8 rail, light")
    RecipeFactory(organisation=organisation, tube=light, stick_length=FOOT * 21)
    form = look(signed_in, "31 1-3/8").context["form"]
    [choice] = [name for name in form.fields if name.startswith("material_")]
    assert form[choice].value() == str(light.pk)
    [length] = [name for name in form.fields if name.startswith("length_")]
    assert form[length].value() == "21'"


@pytest.mark.django_db
def test_a_length_that_nobody_knows_is_asked_at_the_line(signed_in, rail):
    lines = "31 1-3/8"
    shown = look(signed_in, lines)
    assert "Type the length of one piece." in text_of(shown)
    [length] = [name for name in shown.context["form"].fields if name.startswith("length_")]
    wrong = add(signed_in, shown, lines, **{length: "a frog"})
    assert "cannot be read" in text_of(wrong)
    assert wrong.context["form"][length].value() == "a frog"
    assert "longer than any stick" in text_of(add(signed_in, shown, lines, **{length: "200'"}))
    assert add(signed_in, shown, lines, **{length: "10'", f"cost_{rail.pk}": "0.84"}).status_code == 302
    assert Lot.objects.get().length == FOOT * 10


@pytest.mark.django_db
def test_pasted_offcuts_are_of_the_material_chosen(signed_in, rail):
    sent = {"offcuts_of": str(rail.pk), "offcut_lengths": "4'; 3 x 5'\n6'"}
    missing = look(signed_in, "", offcut_lengths="4'")
    assert "Choose of which material these offcuts are." in text_of(missing)
    shown = look(signed_in, "", **sent)
    assert add(signed_in, shown, "", **{f"cost_{rail.pk}": "6"}).status_code == 302
    lots = {(lot.length, lot.on_hand, lot.unit_cost, lot.offcut) for lot in Lot.objects.all()}
    # $6 is that of the longest, 6'.
    assert lots == {(FOOT * 4, 1, 4, True), (FOOT * 5, 3, 5, True), (FOOT * 6, 1, 6, True)}


@pytest.mark.django_db
@pytest.mark.parametrize("change", [{"place_name": ""}, {"place_name": "Elsewhere"}, {"lines": "32 1-3/8 10'"}])
def test_only_what_was_looked_at_is_added(signed_in, rail, change):
    sent = {"lines": "31 1-3/8 10'", f"cost_{rail.pk}": "8"}
    shown = look(signed_in, sent["lines"])
    again = add(signed_in, shown, **(sent | change))
    assert again.status_code == 200
    assert not Lot.objects.exists()
    if change != {"place_name": ""}:
        assert add(signed_in, again, **(sent | change)).status_code == 302


@pytest.mark.django_db
def test_far_from_usual_is_asked_once(signed_in, rail):
    sell(rail, FOOT * 10, "8.40")
    lines = "3 1-3/8 10'"
    shown = look(signed_in, lines)
    asked = add(signed_in, shown, lines, **{f"cost_{rail.pk}": "840"})
    assert "is 100 times what 1-3/8 rail usually costs" in text_of(asked)
    assert not Lot.objects.exists()
    said = asked.context["form"].fields["sure"].widget.said
    assert add(signed_in, asked, lines, sure=said).status_code == 302
    assert Lot.objects.get().unit_cost == 840


@pytest.mark.django_db
def test_the_same_sending_arrives_twice_and_counts_once(signed_in, rail):
    shown = look(signed_in, "31 1-3/8 10'")
    once = shown.content.decode().split('name="once" value="')[1].split('"')[0]
    typed = {f"cost_{rail.pk}": "8", "once": once, "seen": shown.context["form"].asked_now}
    for _ in range(2):
        assert add(signed_in, shown, "31 1-3/8 10'", **typed).status_code == 302
    assert Lot.objects.count() == 1


@pytest.mark.django_db
def test_a_second_person_who_looked_before_is_told(signed_in, rail):
    lines, cost = "31 1-3/8 10'", {f"cost_{rail.pk}": "8"}
    first, second = look(signed_in, lines), look(signed_in, lines)
    seen = second.context["form"].asked_now
    assert add(signed_in, first, lines, **cost).status_code == 302
    told = add(signed_in, second, lines, **cost, seen=seen)
    assert "was put into stock or taken out at Barn rack while this page was open" in text_of(told)
    assert Lot.objects.count() == 1
    assert add(signed_in, told, lines).status_code == 302, "told of it, they may add theirs"


@pytest.mark.django_db
def test_the_page_asks_no_more_for_more_lines(signed_in, rail, screw):
    sell(rail, FOOT * 10, "8.40")

    def asked(lines: str) -> int:
        with CaptureQueriesContext(connection) as found:
            look(signed_in, lines)
        return len(found)

    few = ["31 1-3/8 10'", "9 frogs", "4 screws", "3 1-3/8"]
    assert asked("\n".join(few * 20)) == asked("\n".join(few))


@pytest.mark.django_db
def test_foreign_and_archived_materials_are_not_found(signed_in, rail):
    MaterialFactory(code="other", name="1-3/8 foreign")
    Material.objects.filter(pk=rail.pk).update(archived_at=timezone.now())
    page = text_of(look(signed_in, "31 1-3/8 10'"))
    assert "foreign" not in page
    assert "None of your materials answers to" in page


@pytest.mark.django_db
def test_an_empty_yard_is_refused_in_words(organisation, user):
    with pytest.raises(ValidationError) as refused:
        add_yard(organisation=organisation, user=user, place="Rack", site=None, piles=[])
    assert "nothing to add yet" in refused.value.message_dict["lines"][0]
    assert not Place.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_of_eight_who_add_one_yard_at_once_one_does(organisation, user, rail):
    seen = stand_of(organisation=organisation, place="Rack")
    piles = [Piled(rail, 31, FOOT * 10, False, Decimal(8)), Piled(rail, 2, FOOT * 4, True, Decimal(3))]

    def press(_: int) -> str:
        try:
            add_yard(organisation=organisation, user=user, place="Rack", site=None, piles=piles, seen=seen)
        except ValidationError:
            return "told"
        else:
            return "added"
        finally:
            connection.close()

    with ThreadPoolExecutor(EIGHT) as pool:
        assert sorted(pool.map(press, range(EIGHT))) == ["added"] + ["told"] * (EIGHT - 1)
    assert sorted(Lot.objects.values_list("on_hand", flat=True)) == [2, 31]
    assert Movement.objects.count() == 2
