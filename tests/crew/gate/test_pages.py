"""The list of a day leads to the hoop instead of letting it be ticked off."""

from __future__ import annotations

from datetime import timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from farmbuild.crew.models import Actual, Kind, Task
from tests.crew.gate.test_gate import a_batch, a_house, trial
from tests.factories import CrewFactory, PersonFactory
from tests.hoops.batches.making import make_shop
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop(organisation, user):
    return make_shop(organisation, user)


def planned(organisation, house):
    crew = CrewFactory(organisation=organisation)
    now = timezone.now()
    Task.objects.filter(house=house).update(crew=crew, starts_at=now, ends_at=now + timedelta(minutes=1))
    return PersonFactory(crew=crew)


def test_the_list_of_a_day_leads_to_the_batch(signed_in, shop, organisation):
    house = a_house(shop, "One", tasks=(Kind.TRIAL,))
    person = planned(organisation, house)
    day = f"{reverse('crew:day')}?person={person.slug}"
    page = text_of(signed_in.get(day))
    assert f"/hoops/batches/new/?house={house.slug}" in page and 'value="done"' not in page
    assert 'value="start"' in page and 'value="stop"' in page
    batch = a_batch(shop, house)
    page = text_of(signed_in.get(day))
    assert f'href="{batch.batch.get_absolute_url()}">Measure and accept the trial hoop' in page
    given = {"key": uuid4(), "what": "done", "person": person.slug}
    answer = signed_in.post(
        reverse("crew:day-tick", args=[trial(house).pk]), given, headers={"accept": "application/json"}
    )
    assert answer.status_code == 422 and "not accepted yet" in answer.json()["problem"]
    assert not Actual.objects.exists()
    batch.prove()
    page = text_of(signed_in.get(day))
    assert "All of the day is done." in page and "Measure and accept" not in page


def test_the_bend_is_not_begun_before(signed_in, shop, organisation):
    house = a_house(shop, "One")
    person = planned(organisation, house)
    batch = a_batch(shop, house)
    bend = Task.objects.get(house=house, kind=Kind.BEND)
    day = f"{reverse('crew:day')}?person={person.slug}"
    part = text_of(signed_in.get(day)).split(f'id="task-{bend.pk}"')[1].split("</section>")[0]
    assert "The bend waits for it." in part and "<form" not in part
    batch.prove()
    given = {"key": uuid4(), "what": "start", "person": person.slug}
    tick = reverse("crew:day-tick", args=[bend.pk])
    assert signed_in.post(tick, given, headers={"accept": "application/json"}).json()["kept"]
