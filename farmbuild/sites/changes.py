"""What to show when two people saved the same house."""

from __future__ import annotations

from dataclasses import dataclass

from farmbuild.common.edit_conflicts import Change, merge_stored
from farmbuild.sites.forms import HouseForm
from farmbuild.sites.models import House


@dataclass(frozen=True)
class Clash:
    """``changes`` is empty when the other save changed nothing that the form shows."""

    house: House
    who: str
    changes: tuple[Change, ...]


def settle_house(form: HouseForm, stored: House) -> Clash:
    """Makes the form ready to look over and save again, and says what goes above it."""
    changes = merge_stored(form, stored)
    form.data["version"] = stored.version
    form.full_clean()
    who = stored.saved_by.display_name if stored.saved_by else "Someone"
    return Clash(stored, who, changes)
