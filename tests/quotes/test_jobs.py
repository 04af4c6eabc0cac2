"""Jobs and their houses, customers and photos: what services refuse, and what the database itself does."""

from __future__ import annotations

from hashlib import sha256

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction
from django.utils import timezone

from farmbuild.crew.problems.pictures import Picture
from farmbuild.quotes.customers.services import save_customer
from farmbuild.quotes.jobs import services
from farmbuild.quotes.models import MAX_PHOTOS, Customer, Job, JobHouse, QuoteVersion, SurveyPhoto
from farmbuild.sites.models import House
from tests.factories import HouseFactory, OrganisationFactory, SiteFactory
from tests.quotes.begun import begin

pytestmark = pytest.mark.django_db


@pytest.fixture
def who(organisation, user):
    return {"organisation": organisation, "user": user}


@pytest.fixture
def job(organisation, user):
    return begin(organisation, user)[0]


def another(who, job):
    return services.create_job(**who, data={"customer": job.customer, "name": "Another"})


def picture(number):
    return Picture(data=b"x%d" % number, thumbnail=b"y", width=4, height=3)


def test_a_house_is_of_one_live_job(who, job):
    house = HouseFactory(site__organisation=who["organisation"])
    services.tie_house(**who, job=job, house=house)
    services.tie_house(**who, job=job, house=house)
    other = another(who, job)
    with pytest.raises(ValidationError, match="built for J-0001 already"):
        services.tie_house(**who, job=other, house=house)
    with pytest.raises(DatabaseError), transaction.atomic():
        JobHouse.objects.create(organisation=who["organisation"], job=other, house=house)
    services.lose_job(**who, job=job, because="no answer")
    services.tie_house(**who, job=other, house=house)
    with pytest.raises(ValidationError, match="built for J-0002 already"):
        services.open_again(**who, job=job)
    job.refresh_from_db()
    assert job.state == "lost"
    with pytest.raises(DatabaseError), transaction.atomic():
        JobHouse.objects.filter(job=job).update(live=True)


def test_nothing_of_another_organisation_gets_in(who, job):
    site = SiteFactory()
    stranger = Customer.objects.create(organisation=OrganisationFactory(), name="Other", slug="other")
    for data in ({"customer": stranger, "name": "x"}, {"customer": job.customer, "name": "x", "site": site}):
        with pytest.raises(ValidationError, match="from the list"):
            services.create_job(**who, data=data)
    with pytest.raises(House.DoesNotExist):
        services.tie_house(**who, job=job, house=HouseFactory())
    with pytest.raises(Customer.DoesNotExist):
        save_customer(**who, data={"name": "Mine"}, customer=stranger)
    assert Job.objects.count() == 1


def test_numbers_count_in_each_organisation(who, job):
    assert [another(who, job).reference, another(who, job).reference] == ["J-0002", "J-0003"]
    there = Customer.objects.create(organisation=OrganisationFactory(), name="Other", slug="other")
    Job.objects.create(organisation=there.organisation, customer=there, number=9, name="Theirs")
    assert another(who, job).reference == "J-0004"


def test_as_many_photos_as_fit_and_none_is_edited(who, job):
    services.add_photos(**who, job=job, pictures=[picture(n) for n in range(MAX_PHOTOS)])
    with pytest.raises(ValidationError, match="Up to 12"):
        services.add_photos(**who, job=job, pictures=[picture(99)])
    photo = SurveyPhoto.objects.first()
    with pytest.raises(DatabaseError), transaction.atomic():
        SurveyPhoto.objects.filter(pk=photo.pk).update(caption="Another")
    services.remove_photo(**who, photo=photo)
    with pytest.raises(ValidationError, match="removed already"):
        services.remove_photo(**who, photo=photo)


def test_a_photo_stands_there_once_and_may_come_back(who, job):
    services.add_photos(**who, job=job, pictures=[picture(1), picture(2)])
    for pictures in ([picture(2)], [picture(3), picture(3)]):
        with pytest.raises(ValidationError, match="there already"):
            services.add_photos(**who, job=job, pictures=pictures)
    services.remove_photo(**who, photo=SurveyPhoto.objects.get(position=2))
    services.add_photos(**who, job=job, pictures=[picture(2)])
    found = SurveyPhoto.objects.order_by("position")
    assert [(row.position, row.removed_at is None, row.removed_by) for row in found] == [
        (1, True, None),
        (2, False, who["user"]),
        (3, True, None),
    ]


def test_a_version_that_was_sent_is_never_changed(organisation, user):
    _, quote, _ = begin(organisation, user)
    version = QuoteVersion.objects.create(
        organisation=organisation,
        quote=quote,
        number=1,
        currency="USD",
        shown={"total": "1.00"},
        pdf=b"pdf",
        workbook=b"workbook",
        sha256=sha256(b"pdf").hexdigest(),
        workbook_sha256=sha256(b"workbook").hexdigest(),
        valid_until="2027-01-01",
        sent_at=timezone.now(),
    )
    rows = QuoteVersion.objects.filter(pk=version.pk)
    for change in ({"shown": {"total": "2.00"}}, {"pdf": b"other"}, {"valid_until": "2028-01-01"}, {"number": 2}):
        with pytest.raises(DatabaseError), transaction.atomic():
            rows.update(**change)
    with pytest.raises(DatabaseError), transaction.atomic():
        rows.delete()
    rows.update(state="withdrawn")
    with pytest.raises(DatabaseError), transaction.atomic():
        rows.update(state="accepted")
    assert rows.get().shown == {"total": "1.00"}
