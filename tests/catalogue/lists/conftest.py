"""An invented supplier, and three materials that its lists are about."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

import pytest

from farmbuild.catalogue.lists import services
from farmbuild.catalogue.lists.understood import Understood, understand
from farmbuild.catalogue.models import PriceList, Supplier
from farmbuild.orgs.models import Organisation, User
from tests.factories import MaterialFactory, SupplierFactory

DAY = date(2027, 2, 1)


@dataclass
class Shop:
    organisation: Organisation
    user: User
    supplier: Supplier

    def send(self, text: str | bytes, name: str = "list.csv", **said: Any) -> PriceList:
        data = text.encode() if isinstance(text, str) else text
        made = services.make_list(
            organisation=self.organisation, user=self.user, supplier=self.supplier, data=data, filename=name
        )
        return self.say(made, **said) if said else made

    def say(self, made: PriceList, choices: dict[str, str] | None = None, **said: Any) -> PriceList:
        return services.set_list(
            organisation=self.organisation,
            user=self.user,
            price_list=made,
            settings=made.said | said,
            choices=choices or {},
        )

    def understood(self, made: PriceList, today: date = DAY) -> Understood:
        return understand(organisation=self.organisation, price_list=made, today=today)

    def take(self, made: PriceList, today: date = DAY, **said: Any):
        said = {"end": None, "sure": False} | said
        seen = services.fingerprint(self.understood(made, today))
        return services.take_list(
            organisation=self.organisation, user=self.user, price_list=made, seen=seen, today=today, **said
        )

    def read(self, text: str | bytes, name: str = "list.csv", today: date = DAY, **said: Any):
        return self.take(self.send(text, name), today, **said)


@pytest.fixture
def shop(organisation, user) -> Shop:
    MaterialFactory(organisation=organisation, code="rail", name="1-3/8 rail")
    MaterialFactory(organisation=organisation, code="board", name="2x6 board", kind="lumber")
    MaterialFactory(organisation=organisation, code="screw", name="Joint screw", kind="fastener")
    supplier = SupplierFactory(organisation=organisation, code="pipe", name="Invented Pipe")
    return Shop(organisation, user, supplier)


LIST = """Item no,Description,Length,Pack,From,Price USD,Lead time
IP-1,1-3/8 rail,10',1,1,14.60,6
IP-1,1-3/8 rail,10',1,50,13.40,6
IP-2,2x6 board,12',1,1,11.10,2
IP-3,Joint screw,,100,1,0.0725,
"""
