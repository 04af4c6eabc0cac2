"""What plans answer when rooms below them ask."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from farmbuild.orgs.models import Organisation
from farmbuild.plans import outdated
from farmbuild.sites.models import House
from farmbuild.sites.outdated import Outdated


def tell_what_is_outdated(sender: Any, *, house: House, **more: Any) -> list[Outdated]:
    return outdated.outdated_by(house=house)


def tell_changed_houses(
    sender: Any, *, organisation: Organisation, plans: Collection[int], **more: Any
) -> dict[int, list[str]]:
    return outdated.changed_houses(organisation=organisation, plans=plans)
