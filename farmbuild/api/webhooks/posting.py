"""One message goes out over https: to the very address that was looked at, following nothing, in a bounded time.

By the standard library: what is asked of a client here is to do less than one usually does. A name is looked up once
and connected to where it led then (so that it cannot lead elsewhere between), proxies of the environment are not asked,
and of an answer nothing but its status is read.
"""

from __future__ import annotations

import contextlib
import http.client
import socket
import ssl
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from threading import Timer

from farmbuild.api.webhooks.hosts import HTTPS, NotAllowed, addresses_of, place_of

#: Seconds from the first word to the end of the answer's head.
LONGEST = 10
GONE = 410


@dataclass(frozen=True)
class Answer:
    """``status``: 0 where nothing was answered. ``words``: a sentence for whoever looks after it."""

    status: int
    words: str

    @property
    def taken(self) -> bool:
        return 200 <= self.status < 300


class _Connection(http.client.HTTPSConnection):
    """To addresses that were looked up before; the certificate is asked for the name."""

    def __init__(self, host: str, port: int, addresses: list[str], *, until: float) -> None:
        self._tls = ssl.create_default_context()
        super().__init__(host, port, context=self._tls)
        self._addresses, self._until = addresses, until

    def connect(self) -> None:
        plain = self._reach()
        self.sock = self._tls.wrap_socket(plain, server_hostname=self.host, do_handshake_on_connect=False)
        self.sock.do_handshake()

    def _reach(self) -> socket.socket:
        failed: OSError = OSError("no address")
        for address in self._addresses:
            left = self._until - time.monotonic()
            if left <= 0:
                raise TimeoutError
            try:
                return socket.create_connection((address, self.port), timeout=left)
            except OSError as error:
                failed = error
        raise failed

    def cut(self) -> None:
        """From another thread: whatever it waits for ends now."""
        if self.sock is not None:
            with contextlib.suppress(OSError):
                # The base class alone: that of TLS would wait for the other side.
                socket.socket.shutdown(self.sock, socket.SHUT_RDWR)


def post(url: str, body: bytes, headers: Mapping[str, str]) -> Answer:
    """Never raises for what the other side does."""
    until = time.monotonic() + LONGEST
    try:
        place = place_of(url)
        connection = _Connection(place.host, place.port, addresses_of(place), until=until)
        with _bounded(connection, until):
            # The name of the host as the other side knows it: without the usual port.
            host = place.host if place.port == HTTPS else f"{place.host}:{place.port}"
            connection.request("POST", place.path, body, {"Host": host, "User-Agent": "farmbuild", **headers})
            status = connection.getresponse().status
    except NotAllowed as error:
        return Answer(0, str(error))
    except socket.gaierror:
        return Answer(0, "The name of the host was not found.")
    except ssl.SSLCertVerificationError as error:
        return Answer(0, f"Its certificate does not count: {error.verify_message}."[:200])
    except (OSError, http.client.HTTPException, ValueError) as error:
        if time.monotonic() >= until - 0.05:
            return Answer(0, f"No answer within {LONGEST} seconds.")
        return Answer(0, _without_answer(error))
    return Answer(status, _said(status))


@contextmanager
def _bounded(connection: _Connection, until: float) -> Iterator[None]:
    timer = Timer(max(until - time.monotonic(), 0), connection.cut)
    timer.daemon = True
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
        connection.close()


def _without_answer(error: Exception) -> str:
    if isinstance(error, ConnectionRefusedError):
        return "Nothing listens there."
    if isinstance(error, ssl.SSLError):
        return "It does not speak https."
    return "The connection ended without an answer."


def _said(status: int) -> str:
    if 200 <= status < 300:
        return f"Taken ({status})."
    if 300 <= status < 400:
        return f"It leads on to another address ({status}), which is not followed."
    if status == GONE:
        return "It wants nothing more (410)."
    return f"It refused ({status})."
