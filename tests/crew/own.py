"""Addresses of a member's own pages."""

from __future__ import annotations

from typing import Any

from django.urls import reverse

from farmbuild.crew.models import Member


def first_page() -> str:
    """At the cooperative of the first member that there is."""
    return reverse("coop:seen", args=[_cooperative()])


def own(name: str = "", *args: Any) -> str:
    """The same of "ask", of "booking" with a key, and so on; without a name, of the bookings."""
    return reverse(f"crew:own-{name}" if name else "crew:own", args=[_cooperative(), *args])


def _cooperative() -> str:
    return Member.objects.order_by("pk").values_list("organisation__slug", flat=True)[0]
