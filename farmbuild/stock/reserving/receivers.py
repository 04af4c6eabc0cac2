"""What holds do when something happens to their houses."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from farmbuild.measure import join_words
from farmbuild.sites.models import House
from farmbuild.stock.reserving.selectors import houses_with_reservations
from farmbuild.stock.reserving.services import update_need_dates


def move_need_dates(sender: Any, *, house: House, **more: Any) -> None:
    update_need_dates(house=house)


def refuse_while_reserved(sender: Any, *, houses: Collection[House], **more: Any) -> None:
    if names := [house.name for house in houses_with_reservations(houses=houses)]:
        raise ValidationError(
            gettext("Stock is held by an accepted plan for %(names)s. Release it first, so that others can use it.")
            % {"names": join_words(names)}
        )
