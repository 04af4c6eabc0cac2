"""Tables of what a house holds, and of what others have sooner."""

from __future__ import annotations

from typing import Any

from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.speaking import said
from farmbuild.sites.models import House
from farmbuild.stock.models import Reservation
from farmbuild.stock.reserving.tables import ReservationTable
from farmbuild.stock.reserving.words import for_whom


class SoonerTable(ReservationTable):
    """What other houses hold sooner than ``waiting`` gets it."""

    class Meta(ReservationTable.Meta):
        exclude = ("material", "length")
        empty_text = gettext_lazy("No other house has it sooner.")

    def __init__(self, *args: Any, waiting: Reservation, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.waiting = waiting

    def row_link(self, record: Any) -> str:
        return reverse("stock:swap", args=[self.waiting.pk, record.pk])


class HouseReservationTable(ReservationTable):
    """What ``house`` holds, and sticks of others that it gets pieces of."""

    class Meta(ReservationTable.Meta):
        exclude = ("house", "plan")

    def __init__(self, *args: Any, house: House, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.house = house

    def render_purpose(self, record: Reservation) -> str:
        if record.house_id != self.house.pk:
            own = {piece.purpose for piece in record.pieces.all() if piece.house_id == self.house.pk}
            purposes = ", ".join(said(purpose) for purpose in sorted(own))
            words = gettext("%(purposes)s: pieces of sticks that %(house)s holds")
            return words % {"purposes": purposes, "house": record.house}
        others = for_whom(record).removeprefix(record.house.name)
        return f"{said(record.purpose)}{others}"
