"""Benders: stored, shown, archived; rated beside measured; whose rows; what is refused."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from farmbuild.hoops.batches import services as batches
from farmbuild.hoops.batches.models import TrialHoop
from farmbuild.hoops.benders import services
from farmbuild.hoops.benders.bridge import bender_problems
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.selectors import any_bender_of, benders_for_tube, measured_radius_of
from farmbuild.mechanics import hoop_over
from tests.factories import (
    FOOT,
    INCH,
    BenderFactory,
    LotFactory,
    MaterialFactory,
    MembershipFactory,
    OrganisationFactory,
    RecipeFactory,
)
from tests.hoops.batches.making import PIPE, TARGET, make_bender, make_shop
from tests.reading import text_of


@pytest.fixture
def bender(organisation):
    return make_bender(organisation)


def sent(**changes) -> dict[str, object]:
    return {"name": "14 ft bender", "rated_radius": '93"', "rated_span": "14'", "owner": "", "kept_at": ""} | changes


def prove_at(shop, span: Decimal) -> TrialHoop:
    """An accepted trial hoop of that free span."""
    shop.issue(2)
    trial = shop.measure(span)
    batches.accept_trial(**shop.on, trial=trial)
    return trial


def another_batch(shop, recipe=None) -> None:
    shop.batch = batches.create_batch(
        **shop.who,
        recipe=recipe or shop.batch.recipe,
        bender=shop.batch.bender,
        quantity=5,
        shares={},
        data={"post_span": FOOT * 12, "spring_in": INCH * Decimal("13.5")},
    )


def test_a_bender_is_made_changed_archived_and_brought_back(signed_in, organisation):
    rail = MaterialFactory(organisation=organisation)
    made = signed_in.post(reverse("hoops:bender-new"), sent(tubes=[str(rail.pk)], owner="Hazel (invented)"))
    assert made["Location"] == "/hoops/benders/14-ft-bender/"
    row = Bender.objects.get()
    assert (row.rated_radius, row.rated_span, list(row.tubes.all())) == (INCH * 93, FOOT * 14, [rail])
    page = text_of(signed_in.get(made["Location"]))
    assert "Rated for a radius of 7&#x27; 9&quot; and a 14&#x27; house. No trial hoop has been accepted" in page
    assert "Hazel (invented)" in page
    edit = reverse("hoops:bender-edit", args=[row.slug])
    assert signed_in.get(edit).context["form"]["rated_radius"].value() == '93"'
    assert signed_in.post(edit, sent(name="Fourteen", rated_radius="2400 mm")).status_code == 302
    row.refresh_from_db()
    assert (row.name, row.slug, row.rated_radius, row.tubes.count()) == ("Fourteen", "14-ft-bender", 2400, 0)
    signed_in.post(reverse("hoops:bender-archive", args=[row.slug]))
    benders = reverse("hoops:benders")
    assert "Fourteen</a>" not in text_of(signed_in.get(benders))
    assert "Fourteen</a>" in text_of(signed_in.get(benders, {"archived": "1"}))
    assert "Archived since" in text_of(signed_in.get(row.get_absolute_url()))
    signed_in.post(reverse("hoops:bender-bring-back", args=[row.slug]))
    assert "Fourteen</a>" in text_of(signed_in.get(benders))


@pytest.mark.parametrize(
    ("change", "field", "says"),
    [
        ({"name": ""}, "name", "what the bender is called"),
        ({"rated_radius": ""}, "rated_radius", "the radius that its maker states"),
        ({"rated_radius": "0"}, "rated_radius", "at least 1"),
        ({"rated_radius": "-93"}, "rated_radius", "below zero"),
        ({"rated_radius": "93 in 2 mm"}, "rated_radius", ""),
        ({"rated_radius": "wide"}, "rated_radius", "cannot be read"),
        ({"rated_span": "0"}, "rated_span", "at least 1"),
        ({"rated_span": str(10**12)}, "rated_span", "longer than any"),
        ({"tubes": ["999999"]}, "tubes", ""),
    ],
)
def test_bad_input_is_refused_at_its_field_and_kept(signed_in, organisation, change, field, says):
    form = signed_in.post(reverse("hoops:bender-new"), sent(**change)).context["form"]
    assert set(form.errors) == {field}
    assert says in " ".join(form.errors[field])
    assert all(form[name].value() == typed for name, typed in change.items())
    assert not Bender.objects.exists()


def test_neither_services_nor_database_take_a_radius_of_nothing(organisation, user, bender):
    who = {"organisation": organisation, "user": user}
    with pytest.raises(ValidationError) as refused:
        services.save_bender(**who, bender=bender, data={"rated_radius": Decimal(0)})
    assert set(refused.value.message_dict) == {"rated_radius"}
    with pytest.raises(ValidationError) as refused:
        services.create_bender(**who, data={"name": "N", "rated_radius": INCH, "rated_span": Decimal(0)})
    assert set(refused.value.message_dict) == {"rated_span"}
    assert Bender.objects.count() == 1
    with pytest.raises(IntegrityError):
        Bender.objects.update(rated_radius=0)


@pytest.mark.parametrize(
    ("field", "value", "wrong"),
    [
        ("drift_limit", None, False),
        *((name, Decimal(1), False) for name in ("drift_limit", "rated_radius", "rated_span")),
        *((name, value, True) for name in ("drift_limit", "rated_radius", "rated_span") for value in (0, Decimal(-1))),
    ],
)
def test_a_length_of_a_bender_is_above_zero(bender, field, value, wrong):
    setattr(bender, field, value)
    assert set(bender_problems(bender)) == ({field} if wrong else set())


def test_foreign_tubes_are_refused(organisation, user, bender):
    with pytest.raises(ValidationError) as refused:
        services.save_bender(organisation=organisation, user=user, bender=bender, data={"tubes": [MaterialFactory()]})
    assert set(refused.value.message_dict) == {"tubes"}
    assert not bender.tubes.exists()


def test_addresses_do_not_collide(organisation, user):
    make = {"organisation": organisation, "user": user}
    data = {"rated_radius": INCH * 79, "rated_span": FOOT * 12}
    slugs = [services.create_bender(**make, data=data | {"name": name}).slug for name in ("New", "Новый", "New")]
    assert slugs == ["new-2", "bender", "new-3"]


def test_a_bender_fits_its_tubes_or_any(organisation):
    rail, pipe = (MaterialFactory(organisation=organisation) for _ in range(2))
    of_rail, of_both, of_any, archived = (BenderFactory(organisation=organisation) for _ in range(4))
    of_rail.tubes.set([rail])
    of_both.tubes.set([rail, pipe])
    Bender.objects.filter(pk=archived.pk).update(archived_at=datetime(2027, 3, 4, tzinfo=UTC))
    assert {*benders_for_tube(organisation=organisation, tube=rail)} == {of_rail, of_both, of_any}
    assert {*benders_for_tube(organisation=organisation, tube=pipe)} == {of_both, of_any}


def test_the_measured_radius_is_the_latest_accepted_one(signed_in, organisation, user):
    """From sin(a) / a = span / pipe, but for an inch of straight pipe; never from a hoop that was not accepted."""
    shop = make_shop(organisation, user)
    bender = shop.batch.bender
    shop.issue(2)
    shop.measure(TARGET + INCH * 10)
    assert measured_radius_of(bender=bender) is None
    another_batch(shop)
    first = prove_at(shop, TARGET)
    another_batch(shop)
    second = prove_at(shop, TARGET + INCH)
    TrialHoop.objects.filter(pk=first.pk).update(at=datetime(2027, 3, 4, 12, tzinfo=UTC))
    TrialHoop.objects.filter(pk=second.pk).update(at=datetime(2027, 5, 6, 12, tzinfo=UTC))
    wanted = hoop_over(float(PIPE), float(TARGET + INCH)).radius
    row = any_bender_of(organisation=organisation).get()
    assert float(row.measured_radius) == pytest.approx(wanted, abs=0.1)
    assert float(measured_radius_of(bender=bender)) == pytest.approx(wanted, abs=0.1)
    response = signed_in.get(bender.get_absolute_url())
    page, sheet = text_of(response), response.context["page"]
    # 157.5 in of 236: R = 78.98 in; 158.5 in: R = 79.55 in (SciPy, brentq). Rated 79 in.
    assert "Makes a radius of 6&#x27; 7 9/16&quot;, measured 6 May 2027. Rated for a radius of 6&#x27; 7&quot;" in page
    assert float(sheet.against_rated / INCH) == pytest.approx(wanted / 25.4 - 79, abs=0.003)
    assert any('9/16" wider than rated (+0.7%)' in words for words in sheet.drift)
    assert any('Since 4 March 2027, over 2 accepted trial hoops, hoops came out 9/16" wider' in w for w in sheet.drift)
    assert "Measured, oldest first: 6&#x27; 7&quot; on 4 March 2027, 6&#x27; 7 9/16&quot; on 6 May 2027" in page
    assert "<svg" in sheet.line
    assert [trial.pk for trial in response.context["measured"].data.data] == [second.pk, first.pk]
    # Of the tube that is asked for, where one is measured; else the latest, which is not the last one stored.
    rail, other, none = shop.batch.recipe.tube, *(MaterialFactory(organisation=organisation) for _ in range(2))
    shop.lot = LotFactory(material=other, on_hand=60)
    another_batch(shop, recipe=RecipeFactory(organisation=organisation, tube=other, radius=INCH * 79))
    third = prove_at(shop, TARGET - INCH)
    found = [measured_radius_of(bender=bender, tube_id=tube.pk) for tube in (rail, other, none)]
    assert found == [trial.effective_radius for trial in (second, third, second)]
    unused = BenderFactory(organisation=organisation)
    assert any_bender_of(organisation=organisation).get(pk=unused.pk).measured_radius is None


def test_the_page_lists_recipes_and_batches(signed_in, organisation, user):
    shop = make_shop(organisation, user)
    recipe, bender = shop.batch.recipe, shop.batch.bender
    page = text_of(signed_in.get(bender.get_absolute_url()))
    assert "No recipe in use names this bender." in page
    assert "13 of 12 ft hoop, trial" in page
    recipe.bender = bender
    recipe.save()
    page = text_of(signed_in.get(bender.get_absolute_url()))
    assert "12 ft hoop</a>" in page
    assert "1 recipe uses this bender" in text_of(signed_in.get(reverse("hoops:bender-edit", args=[bender.slug])))


def test_a_radius_tight_for_its_tubes_is_warned_of(signed_in, organisation, user):
    """Ten diameters of 1-3/8 in pipe are 13-3/4 in."""
    rail = MaterialFactory(organisation=organisation)
    data = {"name": "Tight", "rated_radius": INCH * 13, "rated_span": FOOT * 2, "tubes": [rail]}
    tight = services.create_bender(organisation=organisation, user=user, data=data)
    page = text_of(signed_in.get(tight.get_absolute_url()))
    assert "Tight bend." in page
    assert "here 1&#x27; 1 3/4&quot; (common practice, no source)" in page


@pytest.mark.parametrize("name", ["bender", "bender-edit"])
def test_no_page_shows_another_organisations_bender(client, bender, name):
    client.force_login(MembershipFactory().user)
    assert client.get(reverse(f"hoops:{name}", args=[bender.slug])).status_code == 404
    assert "Yard bender" not in text_of(client.get(reverse("hoops:benders")))


@pytest.mark.parametrize("name", ["bender-edit", "bender-archive", "bender-bring-back"])
def test_nothing_changes_another_organisations_bender(client, bender, name):
    client.force_login(MembershipFactory().user)
    before = list(Bender.objects.values())
    assert client.post(reverse(f"hoops:{name}", args=[bender.slug]), sent()).status_code == 404
    assert list(Bender.objects.values()) == before


@pytest.mark.parametrize("name", ["benders", "bender-new"])
def test_pages_ask_for_a_sign_in(client, db, name):
    assert client.get(reverse(f"hoops:{name}")).status_code == 302


def test_the_list_asks_no_more_for_more_rows(signed_in, organisation):
    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert signed_in.get(reverse("hoops:benders")).status_code == 200
        return len(seen)

    def more(count: int, stem: str) -> None:
        Bender.objects.bulk_create(
            Bender(
                organisation=organisation,
                name=f"{stem} {n}",
                slug=f"{stem}-{n}",
                rated_radius=INCH * 79,
                rated_span=FOOT * 12,
            )
            for n in range(count)
        )

    more(3, "few")
    queries()
    few = queries()
    more(1000, "many")
    assert queries() == few < 12


def test_the_page_of_a_bender_asks_no_more_for_more_trials(signed_in, organisation, user):
    shop = make_shop(organisation, user)
    prove_at(shop, TARGET)

    def queries() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert signed_in.get(shop.batch.bender.get_absolute_url()).status_code == 200
        return len(seen)

    queries()
    few = queries()
    for _ in range(4):
        another_batch(shop)
        prove_at(shop, TARGET)
    assert queries() == few < 25


def test_another_organisation_may_have_the_same_address(organisation, user, bender):
    other = OrganisationFactory()
    twin = services.create_bender(
        organisation=other,
        user=None,
        data={"name": bender.name, "rated_radius": INCH * 79, "rated_span": FOOT * 12},
    )
    assert twin.slug == bender.slug
    assert list(any_bender_of(organisation=organisation)) == [bender]
