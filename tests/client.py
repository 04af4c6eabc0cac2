"""Django's test client, in the one organisation of whoever is signed in.

Pages of an organisation are at /of/SLUG/…. Nearly every test has one organisation and speaks of /houses/ alone: this
client puts the beginning before what it asks for and takes it off what comes back. Before it does, it looks at every
address of the page: one that leads out of the organisation fails the test. ``plain()`` gives a client that leaves
addresses as they are.
"""

from __future__ import annotations

import re
from functools import cache
from importlib import import_module
from typing import Any, ClassVar
from urllib.parse import unquote, urlsplit

import django.test
from django.conf import settings
from django.contrib.auth import SESSION_KEY, login
from django.db.models.signals import post_delete, post_save
from django.dispatch import receiver
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.urls import Resolver404, resolve
from whitenoise.middleware import WhiteNoiseMiddleware

from farmbuild.orgs.addresses import FIRST, OUTSIDE
from farmbuild.orgs.models import Membership, User

#: Kept as Django has it: what others import under its name is the client below.
PlainClient = django.test.Client
_TEXT = ("text/html", "application/json")
#: What a browser or a script of ours asks for, on a page.
_ADDRESS = re.compile(r'\b(?:href|src|action|formaction|data-[a-z-]*(?:url|worker|scope))="(/(?!/)[^"]*)"')


def list_static_files_once() -> None:
    """Each client has a handler of its own, for which WhiteNoise would look at every static file again."""
    read = WhiteNoiseMiddleware.add_files_from_finders
    kept: dict[tuple[Any, ...], dict[str, Any]] = {}

    def once(self: WhiteNoiseMiddleware) -> None:
        key = self.static_prefix, self.max_age, self.charset, self.allow_all_origins, self.autorefresh
        if key not in kept:
            before = set(self.files)
            read(self)
            kept[key] = {url: file for url, file in self.files.items() if url not in before}
        self.files.update(kept[key])

    WhiteNoiseMiddleware.add_files_from_finders = once


def plain(like: PlainClient) -> PlainClient:
    """Signed in as ``like`` is; addresses go out and come back as they are."""
    client = PlainClient(raise_request_exception=like.raise_request_exception)
    client.cookies = like.cookies
    return client


class Client(PlainClient):
    #: Sessions of whoever has no one organisation, until a membership or an account is stored, or a membership ends.
    without: ClassVar[set[str]] = set()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._slugs: dict[str, str] = {}
        self._said = ""

    def _login(self, user: User, backend: str | None = None) -> None:
        if self.cookies.get(settings.SESSION_COOKIE_NAME):
            super()._login(user, backend)
        else:
            request = HttpRequest()
            request.session = import_module(settings.SESSION_ENGINE).SessionStore()
            # Django's client writes an empty session first, and a second one in its place: this one is written once.
            request.session.cycle_key = lambda: None
            login(request, user, backend)
            request.session.save()
            self._set_login_cookies(request)
        self.slug(user)

    def slug(self, user: User | None = None) -> str:
        """Of the one organisation of ``user``, or of whoever is signed in; "" where there is none, or several."""
        cookie = self.cookies.get(settings.SESSION_COOKIE_NAME)
        if not cookie or not cookie.value or cookie.value in self.without:
            return ""
        if not self._slugs.get(cookie.value):
            rows = Membership.objects.filter(user=user or self.session.get(SESSION_KEY), user__visitor=False)
            found = list(rows.values_list("organisation__slug", flat=True))
            # Looked up once, so that no test that counts queries counts this one.
            self._slugs[cookie.value] = found[0] if len(found) == 1 else ""
            if len(found) != 1:
                self.without.add(cookie.value)
        return self._slugs[cookie.value]

    def generic(self, method: str, path: str, data: Any = "", *args: Any, **kwargs: Any) -> HttpResponseBase:
        # Where a test says what to go back to, the page says that again.
        typed = data if isinstance(data, bytes) else str(data).encode()
        self._said = unquote(f"{path}?{kwargs.get('QUERY_STRING', '')} ") + typed.decode("utf-8", "replace")
        return super().generic(method, path, data, *args, **kwargs)

    def request(self, **request: Any) -> HttpResponseBase:
        path = request.get("PATH_INFO", "/")
        slug = "" if _has_none(path) else self.slug()
        if not slug:
            return super().request(**request)
        answer = super().request(**request | {"PATH_INFO": f"/{FIRST}/{slug}{path}"})
        _take_off(answer, slug, self._said)
        return answer


@receiver((post_save, post_delete), sender=Membership)
@receiver(post_save, sender=User)
def _look_again(**_: Any) -> None:
    Client.without.clear()


@cache
def _has_none(path: str) -> bool:
    """Whether the address stands outside every organisation, or has one already."""
    if path.startswith((f"/{FIRST}/", settings.STATIC_URL)) or not path.startswith("/"):
        return True
    try:
        match = resolve(path)
    except Resolver404:
        return False
    in_both = match.namespace == "guide"
    shut = getattr(match.func, "login_required", True)
    return match.namespace == "admin" or match.view_name in OUTSIDE or not (shut or in_both)


def leads_out(answer: HttpResponseBase, slug: str) -> list[str]:
    """Addresses of an answer that are neither of the organisation nor of none."""
    found = [answer.headers["Location"]] if "Location" in answer.headers else []
    if answer.status_code < 400 and answer.headers.get("Content-Type", "").startswith("text/html"):
        found += _ADDRESS.findall(answer.content.decode())
    own = f"/{FIRST}/{slug}/"
    return [address for address in found if not address.startswith(own) and not _has_none(urlsplit(address).path)]


def _take_off(answer: HttpResponseBase, slug: str, said: str) -> None:
    out = [address for address in leads_out(answer, slug) if address not in said]
    assert out == []
    if "Location" in answer.headers:
        answer.headers["Location"] = _without(answer.headers["Location"], slug)
    if not answer.streaming and answer.headers.get("Content-Type", "").startswith(_TEXT):
        answer.content = _without(answer.content.decode(), slug).encode()
        if "Content-Length" in answer.headers:
            answer.headers["Content-Length"] = str(len(answer.content))


def _without(text: str, slug: str) -> str:
    return text.replace(f"/{FIRST}/{slug}/", "/").replace(f"%2F{FIRST}%2F{slug}%2F", "%2F")
