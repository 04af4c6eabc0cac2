"""What an act changed stands in one entry a record: by whom, from what to what, in the words of then."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from farmbuild.catalogue.models import Offer, PriceBreak
from farmbuild.crew.models import DayOff, Task
from farmbuild.history.act import current, not_told
from farmbuild.history.models import Entry
from farmbuild.history.presenters import changes_of
from farmbuild.history.recording import recorded
from farmbuild.history.selectors import narrowed
from farmbuild.history.writing import _bounded
from farmbuild.sites.models import House, HouseOwnRow, Site
from farmbuild.stock.models import Lot
from tests.factories import (
    BenderFactory,
    HouseFactory,
    LotFactory,
    MaterialFactory,
    OfferFactory,
    OrganisationFactory,
    PersonFactory,
    SiteFactory,
    SupplierFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def act(organisation, user):
    return lambda: recorded(user=user, organisation=organisation)


@pytest.fixture
def house(organisation):
    return HouseFactory(site__organisation=organisation, name="North 2")


def told(entry, costs=True):
    return [
        (change.label, change.before, change.after) for change in changes_of(entry, entry.organisation, costs=costs)
    ]


def sole() -> Entry:
    (entry,) = Entry.objects.all()
    return entry


def test_a_saved_record_is_told_in_words_and_units(act, house, user):
    house.post_span = Decimal("6096")
    house.save()
    with act():
        house.post_span, house.spacing_wanted, house.need_date = Decimal("7315.2"), Decimal("990.6"), date(2027, 5, 3)
        house.save()
    entry = sole()
    assert (entry.who, entry.user, entry.deed, entry.name) == (user.display_name, user, "changed", "North 2")
    assert (entry.kind, entry.record, entry.organisation, entry.first) == ("house", house.pk, house.organisation, True)
    assert ("Post span", "20'", "24'") in told(entry)
    assert [after for label, _, after in told(entry) if label == "Materials needed by"] == ["3 May 2027"]
    entry.organisation.unit_system = "metric"
    metric = {label: (before, after) for label, before, after in told(entry)}["Post span"]
    assert tuple("".join(word.split()) for word in metric) == ("6096mm", "7315.2mm")


def test_choices_related_rows_and_flags_are_told_by_their_names_of_then(act, organisation, house):
    material, other = house.post_material, MaterialFactory(organisation=organisation, name="Round tube of then")
    label = House._meta.get_field("purlin_joint").verbose_name
    joints = [house.purlin_joint, "none" if house.purlin_joint != "none" else "swage"]
    with act():
        house.post_material, house.hoop_over_post = other, not house.hoop_over_post
        house.purlin_joint = joints[1]
        house.save()
    other.name = "Renamed"
    other.save()
    changes = {label: (before, after) for label, before, after in told(sole())}
    assert (str(material) if material else "nothing", "Round tube of then") in changes.values()
    assert {"yes", "no"} in [set(pair) for pair in changes.values()]
    assert changes[f"{label[:1].upper()}{label[1:]}"] == tuple(
        dict(House._meta.get_field("purlin_joint").choices)[v] for v in joints
    )


def test_nothing_is_told_of_nobody_and_of_what_stays(act, house, organisation):
    for nobody in (None, AnonymousUser()):
        with recorded(user=nobody, organisation=organisation):
            House.objects.filter(pk=house.pk).update(name="By the machine")
    house.refresh_from_db()
    with act():
        house.save()
        House.objects.filter(pk=house.pk).update(name="For a moment")
        House.objects.filter(pk=house.pk).update(name="By the machine")
    assert not Entry.objects.exists()


def test_rows_written_many_at_once_are_told_one_by_one(act, organisation):
    houses = [HouseFactory(site__organisation=organisation, name=f"House {n}") for n in range(3)]
    with act():
        House.objects.of(organisation).filter(site__name__gt="").order_by("site__name").update(
            archived_at=timezone.now()
        )
    assert sorted(Entry.objects.values_list("name", "deed")) == [(f"House {n}", "archived") for n in range(3)]
    assert len(set(Entry.objects.values_list("act", flat=True))) == 1
    assert [entry.others for entry in Entry.objects.filter(first=True)] == [2]
    for house in houses:
        house.archived_at, house.name = None, f"{house.name} again"
    with act():
        House.objects.bulk_update(houses, ["archived_at", "name"])
    assert set(Entry.objects.filter(name__endswith="again").values_list("deed", flat=True)) == {"brought back"}
    with act():
        made = Site.objects.bulk_create(
            [Site(organisation=organisation, name=name, slug=name) for name in ("one", "two")]
        )
    assert [*Entry.objects.filter(kind="site", deed="added").values_list("record", flat=True).order_by("record")] == [
        row.pk for row in made
    ]


def test_a_query_set_of_one_that_is_locked_or_joined_is_told(act, house):
    with act():
        House.objects.select_related("site").filter(pk=house.pk, archived_at=None).update(archived_at=timezone.now())
        assert House.objects.filter(pk=-1).update(name="Nobody") == 0
    assert sole().deed == "archived"


def test_a_row_that_goes_is_told_with_what_it_said(act, organisation):
    person = PersonFactory(organisation=organisation, name="Bram Teal")
    off = DayOff.objects.create(organisation=organisation, person=person, first=date(2027, 5, 3), last=date(2027, 5, 4))
    with act():
        DayOff.objects.filter(pk=off.pk).delete()
    entry = sole()
    assert (entry.deed, entry.removed, entry.record) == ("removed", True, off.pk)
    assert entry.name == "Bram Teal, 3 May 2027 to 4 May 2027"
    assert ("Last day off", "4 May 2027", "nothing") in told(entry)


def test_parts_written_anew_are_told_as_what_changed_in_them(act, organisation):
    offer = OfferFactory(supplier=SupplierFactory(organisation=organisation))
    offer.breaks.all().delete()
    PriceBreak.objects.create(offer=offer, from_quantity=1, unit_price=Decimal("4.50"))
    PriceBreak.objects.create(offer=offer, from_quantity=10, unit_price=Decimal("4"))
    with act():
        offer.breaks.all().delete()
        for amount, price in ((1, "4.75"), (10, "4"), (50, "3")):
            PriceBreak.objects.create(offer=offer, from_quantity=amount, unit_price=Decimal(price))
    entry = sole()
    assert (entry.kind, entry.record, entry.deed) == ("offer", offer.pk, "changed")
    assert told(entry) == [
        ("From 1, price of one piece", "$4.50", "$4.75"),
        ("Price break", "nothing", "from 50"),
        ("From 50, price of one piece", "nothing", "$3.00"),
    ]
    assert told(entry, costs=False) == [("Price break", "nothing", "from 50")]


def test_own_rows_are_told_with_their_house(act, house, organisation):
    wire = MaterialFactory(organisation=organisation, name="Wire", kind="hardware")
    with act():
        HouseOwnRow.objects.bulk_create([HouseOwnRow(house=house, position=1, material=wire, quantity=Decimal(2))])
    assert (sole().kind, told(sole())) == ("house", [("Row of its own", "nothing", "Wire")])


def test_parts_of_one_name_are_paired_in_their_order(act, house, organisation):
    wire = MaterialFactory(organisation=organisation, name="Wire", kind="hardware")

    def write(*quantities: int) -> None:
        HouseOwnRow.objects.filter(house=house).delete()
        HouseOwnRow.objects.bulk_create(
            HouseOwnRow(house=house, position=at, material=wire, quantity=Decimal(quantity))
            for at, quantity in enumerate(quantities, 1)
        )

    write(2, 3)
    with act():
        write(2, 4)
    assert [(before, after) for _, before, after in told(sole())] == [("3", "4")]


def test_from_a_day_to_a_day_both_count(act, house, organisation):
    house.name = "Renamed"
    with act():
        house.save()
    today, day = timezone.localdate(), timedelta(days=1)
    for since, until, found in (
        (today, today, 1),
        (None, today - day, 0),
        (today + day, None, 0),
    ):
        assert narrowed(organisation=organisation, since=since, until=until).count() == found


def test_sixty_changes_are_told_and_the_rest_counted():
    changes = [{"l": str(n)} for n in range(61)]
    assert _bounded(changes[:60]) == changes[:60]
    *some, more = _bounded(changes)
    assert some == changes[:60] and more["b"] == {"n": "1"}


def test_links_to_many_are_told_by_name(act, organisation):
    bender = BenderFactory(organisation=organisation)
    tubes = [MaterialFactory(organisation=organisation, name=f"Tube {n}", kind="tube") for n in range(2)]
    bender.tubes.set(tubes[:1])
    with act():
        bender.tubes.set(tubes[1:])
    assert told(sole()) == [("Tubes it fits", "Tube 0", "Tube 1")]


def test_a_new_record_is_told_without_its_parts(act, organisation):
    offer = OfferFactory.build(supplier=SupplierFactory(organisation=organisation), organisation=organisation)
    offer.material = MaterialFactory(organisation=organisation)
    with act():
        offer.save()
        PriceBreak.objects.create(offer=offer, from_quantity=1, unit_price=Decimal(1))
        Offer.objects.filter(pk=offer.pk).update(lead_days=3)
    assert (sole().deed, told(sole())) == ("added", [])


def test_pieces_thrown_away_are_told_with_why_and_other_movements_by_their_ledger(act, organisation, user):
    from farmbuild.stock.services import receive_more, scrap

    lot = LotFactory(organisation=organisation, on_hand=0)
    given = {"organisation": organisation, "user": user}
    with act():
        receive_more(**given, lot=lot, quantity=5)
    assert not Entry.objects.exists()
    with act():
        scrap(**given, lot=lot, quantity=2, reason="split at the end")
    entry = sole()
    assert (entry.kind, entry.record, entry.deed) == ("lot", lot.pk, "scrapped pieces of")
    assert ("Why", "nothing", "split at the end") in told(entry)


def test_what_was_taken_back_meanwhile_is_not_told(act, house):
    with pytest.raises(ValidationError), act():
        House.objects.filter(pk=house.pk).update(name="Refused")
        raise ValidationError("no")
    with act():
        with pytest.raises(ValidationError), transaction.atomic():
            House.objects.filter(pk=house.pk).update(name="Refused")
            SiteFactory(organisation=house.organisation, name="Never there")
            raise ValidationError("no")
        House.objects.filter(pk=house.pk).update(length=Decimal(9_000))
    assert [label for label, *_ in told(sole())] == ["House length"]
    assert current() is None


def test_an_act_inside_an_act_is_a_part_of_it(act, house, organisation):
    with act(), act():
        House.objects.filter(pk=house.pk).update(name="One")
        with recorded(user=None):
            Site.objects.filter(pk=house.site_id).update(note="Two")
    assert Entry.objects.filter(first=True).count() == 1
    assert sorted(Entry.objects.values_list("kind", flat=True)) == ["house", "site"]


def test_background_work_that_follows_is_no_part_of_it(act, house, django_capture_on_commit_callbacks):
    seen = []
    with django_capture_on_commit_callbacks(execute=True), act():
        transaction.on_commit(lambda: seen.append(current()))
    assert seen == [None]


def test_what_follows_row_by_row_can_be_left_out(act, house):
    with act(), not_told(House):
        House.objects.filter(pk=house.pk).update(name="Moved by a rule")
    assert not Entry.objects.exists()


def test_each_organisation_has_its_own(act, user, house):
    other = HouseFactory(site__organisation=OrganisationFactory(), name="Elsewhere")
    with act():
        House.objects.filter(pk__in=[house.pk, other.pk]).update(length=Decimal(9_001))
    assert sorted(Entry.objects.filter(first=True, others=0).values_list("organisation", flat=True)) == sorted(
        [house.organisation_id, other.organisation_id]
    )


def test_a_role_is_told_and_a_password_never(act, organisation, user):
    membership = organisation.memberships.get(user=user)
    with act():
        membership.role = "crew"
        membership.save()
        user.set_password("another long word")
        user.save()
    entry = sole()
    assert (entry.kind, entry.deed) == ("role", "gave a role to")
    assert told(entry) == [("Role", "Owner", "Crew")]


def test_an_entry_is_never_changed_and_never_deleted(act, house):
    with act():
        House.objects.filter(pk=house.pk).update(name="Once")
    for attempt in (lambda: Entry.objects.update(deed="never"), lambda: Entry.objects.all().delete()):
        with pytest.raises(IntegrityError, match="entry_never"), transaction.atomic():
            attempt()
    assert sole().deed == "changed"


def test_what_an_act_costs(act, house):
    """One read and a write of its own; then all rows at once, and one entry more or a hundred in one statement."""
    house.name = "Counted"
    with CaptureQueriesContext(connection) as queries, act():
        house.save()
    # On PostgreSQL a place in the order is taken besides, which reads no row.
    beside = ("SAVEPOINT", "pg_advisory")
    asked = [sql for query in queries.captured_queries if not any(word in (sql := query["sql"]) for word in beside)]
    assert [sql.split()[0] for sql in asked] == ["SELECT", "UPDATE", "SELECT", "INSERT"]


def test_a_hundred_rows_ask_as_often_as_three(act, organisation):
    HouseFactory(site__organisation=organisation)
    counts = []
    for many in (3, 100):
        while House.objects.of(organisation).count() < many:
            HouseFactory(site=House.objects.first().site, recipe=House.objects.first().recipe)
        with CaptureQueriesContext(connection) as queries, act():
            House.objects.of(organisation).update(name=f"All {many}")
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_tasks_and_lots_are_told_of_what_people_change_alone():
    from farmbuild.history.kept import KEPT

    assert {"minutes", "count", "done"} & {*KEPT[Task].names} == set()
    assert {"on_hand", "reserved"} & {*KEPT[Lot].names} == set()
