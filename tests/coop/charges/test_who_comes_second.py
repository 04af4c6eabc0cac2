"""Damage that is asked for is disputed and answered by one."""

from __future__ import annotations

from decimal import Decimal

import pytest

from farmbuild.coop.charges import services
from tests.coop.making import may
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


def test_what_the_first_said_stands(coop):
    damage = services.charge_damage(
        **coop.who, booking=coop.back(may(4), may(6)), what="roller bent", amount=Decimal("84.20")
    )

    def dispute(why):
        return lambda: services.dispute_for_member(**coop.who, damage=damage, why=why)

    assert "This is disputed already" in comes_second(dispute("it was so before"), dispute("not us"))
    damage.refresh_from_db()
    assert damage.disputed_why == "it was so before"
