"""Fits as they are stored: whole, in one organisation, and never overwritten."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction

from farmbuild.hoops.fits.models import FitReading, HouseFit
from farmbuild.hoops.fits.rows import Reading
from farmbuild.hoops.fits.selectors import fits_of, latest_fit
from farmbuild.hoops.fits.services import save_fit
from tests.factories import HouseFactory, OrganisationFactory

FOOT, INCH = Decimal("304.8"), Decimal("25.4")


def save(house, readings, **changes):
    values = {
        "organisation": house.organisation,
        "user": None,
        "house": house,
        "readings": readings,
        "tolerance": INCH / 2,
        "span_tolerance": INCH / 2,
        "slope": Decimal(0),
    }
    return save_fit(**values | changes)


def test_a_fit_keeps_what_was_measured_and_where(house, user):
    fit = save(house, [Reading(4, INCH * 88, FOOT * 12, INCH, INCH * 2), Reading(13, INCH * 89)], user=user)
    fit.refresh_from_db()
    assert (fit.hoops, fit.post_span, fit.by) == (13, FOOT * 12, user)
    first, last = fit.readings.all()
    assert (first.hoop, first.place, first.ridge_height) == (4, FOOT * 12, INCH * 88)
    assert (first.post_span, first.down, first.up) == (FOOT * 12, INCH, INCH * 2)
    assert (last.place, last.post_span, last.down, last.up) == (FOOT * 48, None, 0, 0)


def test_each_save_is_kept_and_the_latest_counts(house):
    first = save(house, [Reading(1, INCH * 88)])
    second = save(house, [Reading(1, INCH * 89), Reading(2, INCH * 88)])
    assert latest_fit(organisation=house.organisation, house=house) == second
    kept = fits_of(organisation=house.organisation, house=house)
    assert [(fit.pk, fit.measured) for fit in kept] == [(second.pk, 2), (first.pk, 1)]


def test_a_house_that_changes_later_leaves_its_fits_as_they_were(house):
    fit = save(house, [Reading(13, INCH * 88)])
    type(house).objects.filter(pk=house.pk).update(length=FOOT * 24)
    fit.refresh_from_db()
    assert fit.hoops == 13
    assert fit.readings.get().place == FOOT * 48


@pytest.mark.parametrize(
    ("readings", "where", "says"),
    [
        ([], "__all__", "No hoop is measured yet"),
        ([Reading(0, INCH)], "__all__", "no hoop 0"),
        ([Reading(14, INCH)], "__all__", "no hoop 14"),
        ([Reading(2, INCH), Reading(2, INCH)], "__all__", "twice"),
        ([Reading(2, None)], "hoop_2_ridge_height", "Type the ridge height"),
        ([Reading(2, Decimal(0))], "hoop_2_ridge_height", "above zero"),
        ([Reading(2, INCH, down=-INCH)], "hoop_2_down", "below zero"),
        ([Reading(2, INCH, up=-INCH)], "hoop_2_up", "below zero"),
        ([Reading(2, INCH, post_span=INCH * 12)], "hoop_2_post_span", "far from the 12'"),
        ([Reading(2, INCH, post_span=Decimal(0))], "hoop_2_post_span", "far from"),
        ([Reading(2, Decimal(10) ** 13)], None, "digits"),
    ],
)
def test_a_wrong_reading_stores_nothing(house, readings, where, says):
    with pytest.raises(ValidationError) as refused:
        save(house, readings)
    found = refused.value
    if where and hasattr(found, "error_dict"):
        assert set(found.message_dict) == {where}
    assert says in " ".join(found.messages)
    assert not HouseFit.objects.exists()
    assert not FitReading.objects.exists()


def test_a_hoop_comes_up_by_less_than_it_stands_in_its_post(house):
    """A spec without a socket depth says nothing of it."""
    reading = [Reading(2, INCH * 88, up=INCH * 6)]
    assert save(house, reading).readings.get().up == INCH * 6
    house.post_socket_depth = INCH * 6
    house.save()
    with pytest.raises(ValidationError) as refused:
        save(house, reading)
    assert set(refused.value.message_dict) == {"hoop_2_up"}
    assert 'Type less than 6"' in " ".join(refused.value.messages)
    assert save(house, [Reading(2, INCH * 88, up=INCH * 5)]).readings.get().up == INCH * 5


@pytest.mark.parametrize("changes", [{"tolerance": -INCH}, {"span_tolerance": -INCH}])
def test_a_tolerance_below_zero_is_refused(house, changes):
    with pytest.raises(ValidationError):
        save(house, [Reading(1, INCH)], **changes)


def test_a_house_that_cannot_be_built_has_no_fit(house):
    house.post_depth = FOOT * 9
    with pytest.raises(ValidationError, match="Correct its spec"):
        save(house, [Reading(1, INCH * 88)])


def test_another_organisations_house_is_refused(house):
    with pytest.raises(ValidationError, match="someone else"):
        save(house, [Reading(1, INCH * 88)], organisation=OrganisationFactory())
    assert not fits_of(organisation=OrganisationFactory(), house=house).exists()


@pytest.mark.parametrize(
    "values",
    [
        {"ridge_height": 0},
        {"ridge_height": 1, "down": -1},
        {"ridge_height": 1, "up": -1},
        {"ridge_height": 1, "hoop": 0},
        {"ridge_height": 1, "place": -1},
        {"ridge_height": 1, "post_span": 0},
    ],
)
def test_the_database_refuses_what_cannot_be(house, values):
    fit = save(house, [Reading(1, INCH * 88)])
    with pytest.raises(IntegrityError), transaction.atomic():
        FitReading.objects.create(**{"fit": fit, "hoop": 2, "place": 0} | values)


@pytest.mark.parametrize("field", ["hoops", "post_span"])
def test_the_database_refuses_a_fit_of_nothing(house, field):
    fit = save(house, [Reading(1, INCH * 88)])
    with pytest.raises(IntegrityError), transaction.atomic():
        HouseFit.objects.filter(pk=fit.pk).update(**{field: 0})
    with pytest.raises(IntegrityError), transaction.atomic():
        HouseFit.objects.filter(pk=fit.pk).update(tolerance=-1)


def test_no_query_of_a_save_is_a_hoops_own(house, django_assert_max_num_queries):
    long = HouseFactory(site=house.site, length=FOOT * 400)
    with django_assert_max_num_queries(12):
        save(long, [Reading(hoop, INCH * 88) for hoop in range(1, 102)])
