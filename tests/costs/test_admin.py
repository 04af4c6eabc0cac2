"""The administration shows every row of this app and changes none of them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.apps import apps
from django.contrib import admin
from django.urls import reverse

from farmbuild.common.admin import ReadOnlyAdmin
from farmbuild.costs.equipment.services import charge_day
from farmbuild.costs.rates import set_equipment_rate, set_trip_rate
from farmbuild.costs.time.services import type_time
from farmbuild.costs.trips.services import charge_trips
from tests.costs.making import DAY, FIRST, Team
from tests.signing_in import keeper_of_the_server

pytestmark = pytest.mark.django_db


def test_every_table_is_shown_and_none_is_changed(client, organisation, user):
    team = Team(organisation, user).rates()
    thing = set_equipment_rate(**team.who, since=FIRST, a_day=Decimal(7), name="Post driver").equipment
    set_trip_rate(**team.who, since=FIRST, each=Decimal(20))
    given = {**team.who, "day": DAY, "house": team.house}
    type_time(**given, person=team.ann, minutes=60, step="set")
    charge_day(**given, equipment=thing)
    charge_trips(**given, site=team.house.site, times=1)
    client.force_login(keeper_of_the_server())
    models = [*apps.get_app_config("costs").get_models()]
    assert len(models) == 7
    for model in models:
        assert isinstance(admin.site.get_model_admin(model), ReadOnlyAdmin)
        row = model.objects.get() if model._meta.model_name != "payrate" else model.objects.first()
        for name, args in (("changelist", []), ("change", [row.pk])):
            page = client.get(reverse(f"admin:costs_{model._meta.model_name}_{name}", args=args))
            assert page.status_code == 200 and "Save" not in page.content.decode()
