"""Invented limits and forecasts of wind. Days count from the day that the demo is loaded, as forecasts are typed."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from decimal import Decimal
from typing import Any

from farmbuild.crew.wind.services import enter_forecast, set_limits
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site


def enter_weather(organisation: Organisation, user: User, sites: Mapping[str, Site], rows: Mapping[str, Any]) -> None:
    given: dict[str, Any] = {"organisation": organisation, "user": user}
    limits = {work: row | {"speed": Decimal(row["speed"])} for work, row in rows["limits"].items()}
    set_limits(**given, unit=rows["unit"], limits=limits)
    today = today_of(organisation=organisation)
    for row in rows["forecasts"]:
        for ahead in range(row["first"], row["last"] + 1):
            enter_forecast(
                **given,
                site=sites[row["site"]],
                day=today + timedelta(days=ahead),
                wind=Decimal(row["wind"]),
                gust=Decimal(row["gust"]),
                unit=rows["unit"],
                source=row["source"],
            )
