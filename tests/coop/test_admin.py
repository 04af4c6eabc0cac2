"""The administration shows every row of this app and changes none of them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.apps import apps
from django.contrib import admin
from django.urls import reverse

from farmbuild.common.admin import ReadOnlyAdmin
from farmbuild.coop.common.services import open_lot
from farmbuild.coop.pipe.services import NewPipe, NewReturn, record_pipe, record_return
from farmbuild.coop.statement.payments import record_payment
from farmbuild.coop.statement.services import send_statement
from tests.coop.joint.making import Cooperative
from tests.factories import LotFactory, MemberFarmFactory
from tests.signing_in import keeper_of_the_server

pytestmark = pytest.mark.django_db
#: Made by others than the manager, or on another server; the list of each is opened all the same.
WITHOUT_ROWS = {"bookingcharge", "chargerate", "commonwish", "damage", "farmcard", "freedays", "takenover"}


def test_every_table_is_shown_and_none_is_changed(client):
    coop = Cooperative()
    joint = coop.example()
    [order] = coop.close(joint)
    coop.receive(order, *(line.quantity for line in order.lines.all()))
    coop.charge(joint)
    coop.hand_out(joint, 0)
    one, other = coop.members[:2]
    new = NewPipe("lent", one, other, coop.rail, Decimal(3048), 4, coop.today, note="both were here")
    record_return(**coop.who, loan=record_pipe(**coop.who, new=new), new=NewReturn(1, coop.today))
    record_payment(**coop.who, member=one, day=coop.today, amount=Decimal(10), how="cash")
    send_statement(**coop.who, member=one, last=coop.today)
    open_lot(**coop.who, lot=LotFactory(organisation=coop.organisation, on_hand=9), quantity=2)
    MemberFarmFactory(member=one)
    client.force_login(keeper_of_the_server())
    without = set()
    for model in apps.get_app_config("coop").get_models():
        name = model._meta.model_name
        assert isinstance(admin.site.get_model_admin(model), ReadOnlyAdmin)
        row = model.objects.first()
        without |= {name} if row is None else set()
        for view, args in (("changelist", []), *([("change", [row.pk])] if row else [])):
            page = client.get(reverse(f"admin:coop_{name}_{view}", args=args))
            assert page.status_code == 200 and "Save" not in page.content.decode(), name
    assert without == WITHOUT_ROWS
