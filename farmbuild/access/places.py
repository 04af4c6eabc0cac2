"""Where a request comes from, in words that its owner knows again."""

from __future__ import annotations

from django.http import HttpRequest

from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.signing_in import address_of

#: What a browser says of itself, the most particular first: most also say that they are one of those below.
_BROWSERS = (
    ("Edg", "Edge"), ("OPR/", "Opera"), ("SamsungBrowser", "Samsung Internet"), ("Firefox", "Firefox"),
    ("FxiOS", "Firefox"), ("CriOS", "Chrome"), ("Chrome", "Chrome"), ("Safari", "Safari"),
)  # fmt: skip
_MACHINES = (
    ("iPhone", "an iPhone"), ("iPad", "an iPad"), ("Android", "an Android phone"), ("CrOS", "a Chromebook"),
    ("Windows", "Windows"), ("Macintosh", "a Mac"), ("Linux", "Linux"),
)  # fmt: skip


def browser_words(agent: str) -> str:
    """Such as "Firefox on Windows", of what a browser says of itself; anybody may say anything there."""
    browser = next((name for sign, name in _BROWSERS if sign in agent), gettext_noop("A browser"))
    machine = next((name for sign, name in _MACHINES if sign in agent), "")
    return f"{browser} on {machine}" if machine else browser


def place_of(request: HttpRequest | None) -> dict[str, str]:
    """``browser`` and ``address``, as sessions and the log keep them."""
    if request is None:
        return {"browser": "", "address": ""}
    return {"browser": browser_words(request.META.get("HTTP_USER_AGENT", "")), "address": address_of(request) or ""}
