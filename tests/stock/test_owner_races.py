"""Two at once at a member's lot: one leave is used once, and ended leave is used by nobody."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.core.exceptions import ValidationError
from django.db import connection

from farmbuild.stock.models import Lot
from farmbuild.stock.owners.services import end_leave, record_leave
from farmbuild.stock.services import issue_pieces, receive_lot
from tests.factories import LotFactory, MaterialFactory, MemberFactory, MembershipFactory

pytestmark = pytest.mark.django_db(transaction=True)


def at_once(*presses):
    def alone(press):
        try:
            return press()
        except ValidationError as error:
            return str(error)
        finally:
            connection.close()

    with ThreadPoolExecutor(len(presses)) as pool:
        return list(pool.map(alone, presses))


def test_one_leave_is_used_once_however_many_take():
    person = MembershipFactory()
    who = {"organisation": person.organisation, "user": person.user}
    like = LotFactory(material=MaterialFactory(organisation=person.organisation))
    lot = receive_lot(
        **who,
        material=like.material,
        length=like.length,
        quantity=20,
        place=like.place,
        received_on=like.received_on,
        owner=MemberFactory(organisation=person.organisation),
    )
    leave = record_leave(**who, lot=lot, quantity=7, told="by telephone")

    presses = [lambda: issue_pieces(**who, lot=lot, quantity=2, reason="") and "taken"] * 6
    found = at_once(*presses)
    assert found.count("taken") == 3
    assert all("does not cover 2" in words for words in found if words != "taken")
    assert Lot.objects.get(pk=lot.pk).on_hand == 14

    def take():
        issue_pieces(**who, lot=lot, quantity=1, reason="")
        return "taken"

    def end():
        end_leave(**who, leave=leave, reason="needed")
        return "ended"

    found = at_once(take, end)
    assert found[1] == "ended"
    assert Lot.objects.get(pk=lot.pk).on_hand == (13 if found[0] == "taken" else 14)
