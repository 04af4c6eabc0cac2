"""What plans do when something happens to what their houses held."""

from __future__ import annotations

from typing import Any

from django.db.models import QuerySet

from farmbuild.orgs.models import User
from farmbuild.plans.reserving.services import reserve_again
from farmbuild.stock.models import Lot, UsedHold


def reserve_what_came_back(
    sender: Any, *, lot: Lot, used: QuerySet[UsedHold], quantity: int, user: User | None, **more: Any
) -> None:
    reserve_again(lot=lot, used=used, quantity=quantity, user=user)
