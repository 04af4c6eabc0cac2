"""Where a message may go: to https addresses of hosts that the operator named, and never into networks that they did
not open, whatever a name leads to at that moment.
"""

from __future__ import annotations

import socket
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network
from urllib.parse import urlsplit

from django.conf import settings
from django.utils.translation import gettext

from farmbuild.measure import join_words

HTTPS = 443
LONGEST = 300
#: Prefixes in which another address stands (RFC 6052, RFC 3056, RFC 4380): none of them is needed to be told anything.
_CARRIERS = tuple(map(ip_network, ("64:ff9b::/96", "64:ff9b:1::/48", "2002::/16", "2001::/32")))


class NotAllowed(Exception):
    """Nothing is sent there; the text says why."""


@dataclass(frozen=True)
class Place:
    """``path``: with the question that follows it."""

    host: str
    port: int
    path: str


def place_of(url: str) -> Place:
    """Raises NotAllowed where nothing may be sent to it, in words for whoever typed it."""
    if len(url) > LONGEST or not url.isascii() or not url.isprintable() or " " in url:
        raise NotAllowed(
            gettext("An address has at most %(most)s plain letters and signs, without spaces.") % {"most": LONGEST}
        )
    try:
        parts = urlsplit(url)
        port = parts.port or HTTPS
    except ValueError:
        raise NotAllowed(gettext("This is no address. Type it as https://host/path.")) from None
    if parts.scheme != "https" or not parts.hostname:
        raise NotAllowed(gettext("The address begins with https://, so that nobody on the way reads what is told."))
    if "@" in parts.netloc:
        raise NotAllowed(gettext("Leave name and password out of the address: messages are signed."))
    if "#" in url:
        raise NotAllowed(gettext("Leave out what follows # in the address."))
    if not _is_named(parts.hostname, port):
        raise NotAllowed(_who_is_allowed(parts.hostname, port))
    return Place(parts.hostname, port, (parts.path or "/") + (f"?{parts.query}" if parts.query else ""))


def _is_named(host: str, port: int) -> bool:
    for named in settings.WEBHOOK_HOSTS:
        name, _, at = named.partition(":")
        same = host.endswith(name) if name.startswith(".") else host == name
        if same and port == int(at or HTTPS):
            return True
    return False


def _who_is_allowed(host: str, port: int) -> str:
    asked = host if port == HTTPS else f"{host}:{port}"
    if not settings.WEBHOOK_HOSTS:
        return gettext("Whoever keeps this server has allowed no hosts yet. Ask them to allow %(asked)s.") % {
            "asked": asked
        }
    return gettext(
        "%(asked)s is not allowed here. Allowed: %(hosts_in_words)s. Whoever keeps this server may allow more."
    ) % {"asked": asked, "hosts_in_words": hosts_in_words()}


def hosts_in_words() -> str:
    """Those that are allowed; empty for none."""
    return join_words(
        gettext("any name below %(each)s") % {"each": each[1:]} if each.startswith(".") else each
        for each in settings.WEBHOOK_HOSTS
    )


def addresses_of(place: Place) -> list[str]:
    """Where the name leads now. Raises NotAllowed if any of it is not open; OSError where the name is not found."""
    found = socket.getaddrinfo(place.host, place.port, type=socket.SOCK_STREAM)
    addresses = list(dict.fromkeys(str(address[0]) for *_, address in found))
    if any(not _is_open(each) for each in addresses):
        raise NotAllowed(
            gettext(
                "%(host)s leads into a network that is not open to everybody. Whoever keeps this server may allow it."
            )
            % {"host": place.host}
        )
    return addresses


def _is_open(text: str) -> bool:
    address: IPv4Address | IPv6Address = ip_address(text.partition("%")[0])
    if isinstance(address, IPv6Address) and address.ipv4_mapped:
        address = address.ipv4_mapped
    if any(address in network for network in settings.WEBHOOK_NETWORKS if network.version == address.version):
        return True
    if any(address in network for network in _CARRIERS if network.version == address.version):
        return False
    return address.is_global and not address.is_multicast and not address.is_reserved
