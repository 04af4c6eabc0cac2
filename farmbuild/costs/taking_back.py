"""What was charged is taken back by its opposite."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

from farmbuild.costs.models import Posted
from farmbuild.orgs.models import User

Row = TypeVar("Row", bound=Posted)
BACK = gettext_lazy("This is taken back already.")


def check_reason(reason: str, example: str) -> str:
    """Without spaces too many. Raises ValidationError at ``reason``."""
    reason = " ".join(reason.split())
    if not reason:
        raise ValidationError(
            {"reason": gettext("Say why in a few words, for example: %(example)s.") % {"example": example}}
        )
    return reason


def take_back_rows(*, rows: Iterable[Row], quantity: str, user: User | None, reason: str) -> list[Row]:
    """Each with its ``quantity`` and amount the other way; the caller holds the rows."""
    made = []
    for row in rows:
        names = [field.attname for field in row._meta.concrete_fields if field.name not in ("id", "at")]
        values = {name: getattr(row, name) for name in names}
        values |= {quantity: -values[quantity], "amount": -row.amount}
        made.append(type(row)(**values | {"reverses_id": row.pk, "by_id": user and user.pk, "reason": reason[:200]}))
    return type(made[0])._default_manager.bulk_create(made) if made else []
