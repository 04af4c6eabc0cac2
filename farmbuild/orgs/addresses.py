"""Where the pages of an organisation stand: everything of it is below /of/SLUG/.

The beginning of an address is taken off before Django looks the page up, and is the script prefix while the page is
made. So whatever writes an address (``reverse``, ``{% url %}``, a redirect) writes one of the same organisation.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.http import HttpRequest
from django.urls import get_script_prefix, reverse, set_script_prefix
from django.utils.encoding import escape_uri_path

#: The first part of every address of an organisation.
FIRST = "of"
#: A slug, and what follows it; nothing where the address ends with the slug.
_OF = re.compile(rf"^/{FIRST}/(?P<slug>[-a-zA-Z0-9_]+)(?P<rest>/.*)?$", re.DOTALL)
_END_OF_PREFIX = re.compile(rf"{FIRST}/[-a-zA-Z0-9_]+/$")
#: Pages of whoever signed in: they answer with and without an organisation in their address, as does the guide.
OF_A_PERSON = frozenset(
    {
        "access:account",
        "access:name",
        "access:own-log",
        "access:sign-ins",
        "access:sign-ins-end",
        "access:step-off",
        "access:step-on",
        "access:step-papers",
        "access:weekly",
        "change-password",
        "crew:day-worker",
        "moving:erase-own",
        "orgs:choose",
    }
)
#: Pages with no organisation in their address, beside those for which nobody has to sign in.
OUTSIDE = frozenset({"sign-out"})


def split_address(path: str) -> tuple[str, str | None]:
    """The slug and what follows it: "/of/mossy/houses/" gives "mossy" and "/houses/"; "" where it has none."""
    found = _OF.match(path)
    return (found["slug"], found["rest"]) if found else ("", None)


def mounted_at() -> str:
    """Where the site stands on its server, with no organisation: "/" or "/growers/"."""
    return _END_OF_PREFIX.sub("", get_script_prefix())


def prefix_of(slug: str) -> str:
    """The beginning of every address of the organisation of that slug."""
    return f"{mounted_at()}{FIRST}/{slug}/"


def address_in(slug: str, request: HttpRequest) -> str:
    """The address that was asked for, query and all, in the organisation of that slug."""
    return f"{prefix_of(slug)[:-1]}{address_within(request)}"


def address_within(request: HttpRequest) -> str:
    """What was asked for, with neither site nor organisation: "/houses/?page=2"."""
    query = request.META.get("QUERY_STRING", "")
    return f"{escape_uri_path(request.path_info)}{'?' if query else ''}{query}"


@contextmanager
def prefix_in_force(prefix: str) -> Iterator[None]:
    """Addresses begin with it until the end; then as before."""
    before = get_script_prefix()
    set_script_prefix(prefix)
    try:
        yield
    finally:
        set_script_prefix(before)


def reverse_outside(name: str, *args: Any) -> str:
    """An address of no organisation, for whoever is not signed in: the page for signing in, a calendar."""
    with prefix_in_force(mounted_at()):
        return reverse(name, args=args)
