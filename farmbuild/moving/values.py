"""Values of columns as JSON has them, and back: the same to the digit on every database."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, time
from decimal import Decimal
from typing import Any
from uuid import UUID

from django.db.models import DecimalField, Field, JSONField


def packed(field: Field, value: Any) -> Any:
    """Numbers with a point, days, times and moments (UTC) as text; JSON as it is."""
    if value is None or isinstance(field, JSONField):
        return value
    if isinstance(value, Decimal):
        places = field.decimal_places if isinstance(field, DecimalField) else 3
        return f"{value:.{places}f}"
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, UUID):
        return str(value)
    return value


def unpacked(field: Field, value: Any) -> Any:
    """Raises ValueError or ValidationError for what the column does not take."""
    if value is None:
        if not field.null:
            raise ValueError(f"{field.name} is empty")
        return None
    if isinstance(field, JSONField):
        return value
    if isinstance(value, list | dict):
        raise ValueError(f"{field.name} is not one value")
    if isinstance(field, DecimalField) and not isinstance(value, str):
        raise ValueError(f"{field.name} is no number as text")
    return field.to_python(value)


def line_of(row: dict[str, Any]) -> str:
    """One line; the same for the same row, whatever the order in which its parts come."""
    return json.dumps(row, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
