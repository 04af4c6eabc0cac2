"""A value of a record as it is kept: in words where it has some, as a plain number where a reader's units say how.

Each is None for nothing, or one of: ``{"t": text}``, ``{"mm": millimetres}``, ``{"mms": [millimetres]}``,
``{"n": number}``, ``{"m": amount, "c": currency}``, ``{"day": ISO date}``, ``{"at": ISO moment}``.

A change is ``{"l": label, "a": before, "b": after}``, with ``"p"``: of which part, and ``"costs": true`` where only
they see it who may see costs.
"""

from __future__ import annotations

import json
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import BooleanField, Field
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.common.fields import LengthField, LengthListField, format_exact
from farmbuild.common.templatetags.farm import day, moment
from farmbuild.measure import UnitSystem, format_decimal, format_money
from farmbuild.measure.speech import gettext_noop

Said = dict[str, Any] | None
#: A note may be pages long; its beginning says which it was.
LONGEST = 300
NOTHING = gettext_noop("nothing")
YES, NO = gettext_noop("yes"), gettext_noop("no")
ONE_GONE = gettext_noop("one that is gone")


def text_value(text: str) -> Said:
    return {"t": text if len(text) <= LONGEST else f"{text[: LONGEST - 1]}…"} if text else None


def money_value(amount: Decimal | None, currency: str) -> Said:
    return None if amount is None else {"m": str(amount), "c": currency}


def kept_value(field: Field, value: Any) -> Said:
    """Of any column but keys of other rows and money."""
    if value is None or value == "" or value == []:
        return None
    if isinstance(field, LengthField):
        return {"mm": str(value)}
    if isinstance(field, LengthListField):
        return {"mms": [str(each) for each in value]}
    if field.choices:
        return text_value(str(dict(field.flatchoices).get(value, value)))
    return _plain(field, value)


def _plain(field: Field, value: Any) -> Said:
    if isinstance(field, BooleanField):
        return {"t": YES if value else NO}
    if isinstance(value, datetime):
        return {"at": value.isoformat()}
    if isinstance(value, date):
        return {"day": value.isoformat()}
    if isinstance(value, int | Decimal):
        return {"n": str(value)}
    if isinstance(value, list | tuple):
        return text_value(", ".join(map(str, value)))
    if isinstance(value, dict):
        return text_value(json.dumps(value))
    return text_value(f"{value:%H:%M}" if hasattr(value, "hour") else str(value))


def words_of(value: Said, organisation: Any) -> str:
    """For reading, in the units of the organisation and by the number style in force."""
    if not value:
        return gettext(NOTHING)
    # The database may give the parts of a value in another order: beside an amount stands its currency.
    how = next(part for part in value if part != "c")
    what = value[how]
    units = UnitSystem(organisation.unit_system)
    match how:
        case "mm":
            return format_exact(Decimal(what), units)
        case "mms":
            return "; ".join(format_exact(Decimal(each), units) for each in what)
        case "n":
            number = Decimal(what)
            return format_decimal(number.normalize() if number % 1 else number.quantize(Decimal(1)))
        case "m":
            return format_money(Decimal(what), value["c"])
        case "day":
            return day(date.fromisoformat(what))
        case "at":
            return moment(timezone.localtime(datetime.fromisoformat(what)))
        case _:
            return str(what)
