"""What the work answers when a house asks."""

from __future__ import annotations

from typing import Any

from farmbuild.crew.steps import outdated
from farmbuild.sites.models import House
from farmbuild.sites.outdated import Outdated


def tell_what_is_outdated(sender: Any, *, house: House, **more: Any) -> list[Outdated]:
    return outdated.outdated_by(house=house)
