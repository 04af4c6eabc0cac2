"""Values as programs get and send them: exact decimals as text with the unit in the name of the field, ISO days."""

from __future__ import annotations

from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Annotated, Any

from ninja import Field
from pydantic import StringConstraints

#: Six places of a millimetre are stored.
Mm = Annotated[str, StringConstraints(pattern=r"^-?[0-9]{1,9}(\.[0-9]{1,6})?$"), Field(examples=["3048", "34.925"])]
#: As it may be sent.
Size = Annotated[str, StringConstraints(pattern=r"^[0-9]{1,9}(\.[0-9]{1,6})?$"), Field(examples=["3048", "34.925"])]
Count = Annotated[int, Field(ge=0, le=999_999_999)]
#: On one line.
Line = Annotated[str, StringConstraints(max_length=400, pattern=r"^[^\x00-\x1f\x7f]*$")]
#: A decimal point, no grouping; the currency stands in a field beside it.
Amount = Annotated[str, StringConstraints(pattern=r"^-?[0-9]{1,15}(\.[0-9]{1,6})?$"), Field(examples=["18.40"])]
#: As it may be sent.
Cost = Annotated[str, StringConstraints(pattern=r"^[0-9]{1,9}(\.[0-9]{1,4})?$"), Field(examples=["18.40"])]
Number = Annotated[str, StringConstraints(pattern=r"^-?[0-9]{1,15}(\.[0-9]{1,6})?$"), Field(examples=["1.5"])]
Key = Annotated[int, Field(ge=1, le=2**53 - 1)]
#: Days that any form takes.
Day = Annotated[date, Field(ge=date(2000, 1, 1), le=date(2100, 12, 31), examples=["2027-05-12"])]
Currency = Annotated[str, StringConstraints(pattern="^[A-Z]{3}$"), Field(examples=["USD"])]


def plain(value: Decimal) -> str:
    """Every place that is there, and no other."""
    text = f"{value:f}"
    return (text.rstrip("0").rstrip(".") if "." in text else text) or "0"


def plain_text(value: str) -> str:
    """Of a decimal that was kept as text; what is none stays as it is."""
    try:
        return plain(Decimal(value))
    except InvalidOperation:
        return value


def mm(value: Decimal | None) -> str | None:
    return None if value is None else plain(value)


def amount(value: Decimal | None) -> str | None:
    """Places as they are stored, at least two."""
    if value is None:
        return None
    text = plain(value)
    whole, _, places = text.partition(".")
    return f"{whole}.{places.ljust(2, '0')}"


def field(description: str, default: Any = ...) -> Any:
    return Field(default, description=description)
