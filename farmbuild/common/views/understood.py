"""Small answers that every page may ask for."""

from decimal import Decimal
from typing import Any

from django.http import HttpRequest, JsonResponse, QueryDict
from django.views.decorators.http import require_GET

from farmbuild.common.fields import DEFAULT_UNITS
from farmbuild.common.reading import units_of
from farmbuild.common.signals import asking_if_usual
from farmbuild.common.speaking import said
from farmbuild.common.understood import KINDS, understood_as
from farmbuild.measure import LengthError, Unit, UnitSystem, parse_length
from farmbuild.measure.senses import Sense, ask_back

_MOST_PLACES = 4


@require_GET
def understood(request: HttpRequest) -> JsonResponse:
    """How a typed number is read: {"understood": …}, or {"problem": …} when it cannot be.

    {"question": …} beside it where it is far from what the ``material`` usually is.
    """
    return understood_for(request.organisation, request.GET, material=request.GET.get("material", ""))


def understood_for(organisation: Any, asked: QueryDict, *, material: str = "") -> JsonResponse:
    """The same in the units and the currency of ``organisation``, by the number style in force.

    Only who may know what it pays gives a ``material``: what is usual is told from its prices.
    """
    kind, places = asked.get("kind", "length"), asked.get("places", "")
    try:
        system = UnitSystem(asked["system"]) if asked.get("system") else units_of(organisation)
        unit = Unit(asked.get("unit", "")) if kind.startswith("length") else Unit.MILLIMETRE
        if kind not in KINDS:
            raise ValueError
    except ValueError:
        return JsonResponse({"problem": "Ask with unit=mm, cm, m, in or ft and system=imperial or metric."}, status=400)
    try:
        read = understood_as(
            kind,
            asked.get("text", ""),
            unit=unit,
            system=system,
            currency=organisation.currency,
            places=int(places) if places.isdecimal() else _MOST_PLACES,
        )
    except ValueError as error:
        return JsonResponse({"problem": said(getattr(error, "sentence", str(error)))})
    told = {"understood": read.words}
    sense = _sense(asked) if kind == "length" else None
    if sense and (far := ask_back(asked.get("text", ""), unit, system, sense)):
        told["question"] = said(far.question)
    if material:
        answers = asking_if_usual.send(
            sender=None,
            organisation=organisation,
            material=material,
            kind=kind,
            value=read.value,
            length=_length(asked.get("length", ""), system),
        )
        if question := " ".join(answer for _, answer in answers if answer):
            told["question"] = question
    return JsonResponse(told)


def _sense(asked: QueryDict) -> Sense | None:
    """Between what sizes the box takes a number as plain; None where it does not say."""
    low, high = asked.get("low", ""), asked.get("high", "")
    return Sense(Decimal(low), Decimal(high)) if low.isdecimal() and high.isdecimal() else None


def _length(text: str, system: UnitSystem) -> Decimal | None:
    """Of one piece, as the box beside says it."""
    try:
        return parse_length(text, DEFAULT_UNITS[False][system])
    except LengthError:
        return None
