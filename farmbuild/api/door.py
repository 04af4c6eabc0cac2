"""How a program comes in: its token is looked up, counted, and held to what its person may do now."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db.models import Case, F, PositiveIntegerField, Value, When
from django.http import HttpRequest
from django.utils import timezone
from ninja.security import HttpBearer

from farmbuild.api.models import Token
from farmbuild.api.problems import Refusal
from farmbuild.api.scopes import ACTS, WORDS, acts_of_scopes
from farmbuild.api.tokens import by_secret
from farmbuild.measure import activate_style, join_words, show_amounts
from farmbuild.orgs.acts import Act, acts_of, hold_to, refusal
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.numbers import style_of

NO_TOKEN = {"WWW-Authenticate": 'Bearer realm="farmbuild"'}
WRONG_TOKEN = {"WWW-Authenticate": 'Bearer realm="farmbuild", error="invalid_token"'}


def enter(request: HttpRequest) -> Token:
    """Once a request. Raises Refusal: 401 without a token that lets in, 429 where it asks too often."""
    token: Token | None = getattr(request, "token", None)
    if token is not None:
        return token
    scheme, _, secret = request.headers.get("Authorization", "").partition(" ")
    if scheme.lower() != "bearer" or not secret.strip():
        raise Refusal(401, "Send the token: Authorization: Bearer …", headers=NO_TOKEN)
    token = by_secret(secret.strip())
    if token is None:
        raise Refusal(401, "This token lets nobody in: it is over, or never was one.", headers=WRONG_TOKEN)
    _count(token, timezone.now())
    organisation, user = token.organisation, token.user
    acts = acts_of_scopes(token.scopes)
    hold_to(user=user, acts=acts)
    request.token, request.token_name = token, token.name
    request.organisation, request.user = organisation, user
    # What the lines of the log say without asking.
    request._cached_user = user
    request.acts = acts_of(organisation=organisation, user=user)
    timezone.activate(zone_of(organisation=organisation))
    activate_style(style_of(organisation=organisation))
    show_amounts(Act.COSTS in request.acts)
    return token


def _count(token: Token, now: datetime) -> None:
    """Requests of each minute of the clock; one statement, so that none is lost where several come at once."""
    minute = now.replace(second=0, microsecond=0)
    if token.minute == minute and token.uses >= settings.API_A_MINUTE:
        words = f"A token may ask {settings.API_A_MINUTE} times a minute. Wait, then go on."
        raise Refusal(429, words, headers={"Retry-After": str(60 - now.second)})
    uses = Case(When(minute=minute, then=F("uses") + 1), default=Value(1), output_field=PositiveIntegerField())
    Token.objects.filter(pk=token.pk).update(used_at=now, uses=uses, minute=minute)


class Bearer(HttpBearer):
    """A token with any one of these acts. ``prices``: with that of seeing costs too."""

    openapi_bearerFormat = "token"

    def __init__(self, *acts: Act, prices: bool = False) -> None:
        super().__init__()
        self.acts, self.prices = acts, prices

    def __call__(self, request: HttpRequest) -> Any:
        enter(request)
        if self.acts and {*self.acts}.isdisjoint(request.acts):
            raise Refusal(403, why_not(request, self.acts))
        if self.prices and Act.COSTS not in request.acts:
            raise Refusal(403, why_not(request, (Act.COSTS,)))
        return request.token

    def authenticate(self, request: HttpRequest, token: str) -> Any:
        """The base class wants one; all is done before."""

    def opens(self, acts: Collection[Act]) -> bool:
        """Whether a token with these gets an answer."""
        return (not self.acts or not {*self.acts}.isdisjoint(acts)) and (not self.prices or Act.COSTS in acts)


def why_not(request: HttpRequest, acts: Collection[Act]) -> str:
    """The scopes that the token lacks, or who may where its person may not either."""
    token: Token = request.token
    lacking = [str(WORDS[scope]) for scope, act in ACTS.items() if act in acts and scope not in token.scopes]
    if lacking:
        return f"This token may not {join_words(lacking, 'or')}. Make one that may."
    return refusal(organisation=request.organisation, act=next(iter(acts)))
