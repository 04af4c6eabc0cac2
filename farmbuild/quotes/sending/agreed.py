"""Whether a house is still as its customer agreed to it."""

from __future__ import annotations

from dataclasses import asdict

from farmbuild.quotes.bridge import digest
from farmbuild.sites.bridge import spec_input
from farmbuild.sites.models import House


def agreed_digest(house: House) -> str:
    """Of all that the house is built of; names, places and days are no part of it."""
    return digest({name: repr(value) for name, value in asdict(spec_input(house)).items()})
