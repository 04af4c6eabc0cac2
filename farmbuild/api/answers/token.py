"""The token itself: whose it is and what it may do now."""

from datetime import datetime

from django.http import HttpRequest
from ninja import Router, Schema

from farmbuild.api.door import Bearer
from farmbuild.api.opening import reads
from farmbuild.api.scopes import ACTS
from farmbuild.api.values import Currency, field

router = Router(tags=["token"])


class OrganisationOut(Schema):
    slug: str
    name: str
    currency: Currency
    units: str = field("How its pages write lengths: imperial or metric. The interface always says millimetres.")
    time_zone: str


class TokenOut(Schema):
    name: str
    organisation: OrganisationOut
    person: str = field("Whose acts these are.")
    scopes: list[str] = field("What it was made for.")
    may: list[str] = field("Of its scopes, those that its person may do now.")
    ends_at: datetime


@reads(router, "/token", "token", TokenOut, Bearer(), "What this token may do")
def token(request: HttpRequest):
    row, organisation = request.token, request.organisation
    return {
        "name": row.name,
        "organisation": {
            "slug": organisation.slug,
            "name": organisation.name,
            "currency": organisation.currency,
            "units": organisation.unit_system,
            "time_zone": organisation.time_zone,
        },
        "person": row.user.display_name,
        "scopes": row.scopes,
        "may": [scope.value for scope, act in ACTS.items() if scope in row.scopes and act in request.acts],
        "ends_at": row.ends_at,
    }
