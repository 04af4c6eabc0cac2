"""What whoever keeps a server says by variables, read strictly: a word that means nothing ends the start, and says so.

Settings import it, so it imports nothing of Django.
"""

from __future__ import annotations

import os
import re

_HOST = re.compile(r"\.?[a-z0-9]([a-z0-9.-]{0,251}[a-z0-9])?")


def is_on(name: str) -> bool:
    """Raises SystemExit for what is neither yes nor no."""
    said = os.environ.get(name, "")
    if said not in ("", "0", "1"):
        raise SystemExit(f"{name} is 1 for yes, 0 or nothing for no; “{said}” is neither.")
    return said == "1"


def one_of(name: str, *words: str) -> str:
    """Empty where nothing is said. Raises SystemExit for any other word."""
    said = os.environ.get(name, "")
    if said not in ("", *words):
        raise SystemExit(f"{name} is {' or '.join(words)}, or not there; “{said}” is not known.")
    return said


def public_hosts() -> list[str]:
    """Names that the site answers to. Raises SystemExit for what no browser asks for as a host."""
    hosts = [host.strip() for host in os.environ.get("FARMBUILD_HOSTS", "").split(",") if host.strip()]
    for host in hosts:
        if not _HOST.fullmatch(host):
            raise SystemExit(
                "FARMBUILD_HOSTS is the names that the site answers to, in small letters and without https:// and"
                f" ports, commas between, such as farm.example.org. “{host}” is none."
            )
    return hosts


def check_proxy(hosts: list[str]) -> bool:
    """Whether a web server in front says who asks. Raises SystemExit where it would be trusted for nothing."""
    behind = is_on("FARMBUILD_BEHIND_PROXY")
    if behind and not hosts:
        raise SystemExit(
            "FARMBUILD_BEHIND_PROXY trusts a web server in front, but FARMBUILD_HOSTS says no name that the site"
            " answers to there. Say it, or leave both out on one's own machine."
        )
    return behind


def proxy_is_unsaid(hosts: list[str]) -> bool:
    """The site asks for https, and nobody has said who gives it."""
    return bool(hosts) and not os.environ.get("FARMBUILD_BEHIND_PROXY")
