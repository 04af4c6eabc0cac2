"""The files of a server, filled in."""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass
from pathlib import Path

_FILES = Path(__file__).with_name("files")
_HOST = re.compile(r"[a-z0-9]([a-z0-9.-]{0,251}[a-z0-9])?")


@dataclass(frozen=True)
class Place:
    """Where things are on a machine. ``http``, ``https``: ports of the web server; ``port``: of the program."""

    host: str
    program: str = "/opt/farmbuild"
    data: str = "/var/lib/farmbuild"
    etc: str = "/etc/farmbuild"
    user: str = "farmbuild"
    # Over the socket of the same machine the system itself says who asks, so there is no password.
    database: str = "postgresql://%2Fvar%2Frun%2Fpostgresql/farmbuild"
    port: int = 8000
    http: int = 80
    https: int = 443
    certificate: str = ""
    key: str = ""

    def __post_init__(self) -> None:
        if not _HOST.fullmatch(self.host):
            raise ValueError(f"{self.host} is no name of a host. Give one such as farm.example.org, in small letters.")


def filled_files(place: Place) -> dict[str, str]:
    """Text by name of the file; braces of its own are doubled in it."""
    certificates = f"/etc/letsencrypt/live/{place.host}"
    values = asdict(place) | {
        "certificate": place.certificate or f"{certificates}/fullchain.pem",
        "key": place.key or f"{certificates}/privkey.pem",
    }
    return {path.name: path.read_text(encoding="utf-8").format(**values) for path in sorted(_FILES.iterdir())}
