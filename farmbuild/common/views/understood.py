"""Small answers that every page may ask for."""

from django.http import HttpRequest, JsonResponse
from django.views.decorators.http import require_GET

from farmbuild.common.fields import understood_length
from farmbuild.measure import LengthError, Unit, UnitSystem


@require_GET
def understood(request: HttpRequest) -> JsonResponse:
    """How a typed length is read: {"understood": …}, or {"problem": …} when it cannot be."""
    try:
        system = UnitSystem(request.GET.get("system") or request.organisation.unit_system)
        unit = Unit(request.GET.get("unit", ""))
    except ValueError:
        return JsonResponse({"problem": "Ask with unit=mm, cm, m, in or ft and system=imperial or metric."}, status=400)
    try:
        return JsonResponse({"understood": understood_length(request.GET.get("text", ""), unit, system)})
    except LengthError as error:
        return JsonResponse({"problem": str(error)})
