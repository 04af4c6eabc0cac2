"""The way from a browser to the server, which can be cut: what a phone has in the field."""

from __future__ import annotations

import socket
import threading
from contextlib import suppress

from tests.browser.engines.driver import a_port


class Reception:
    """Hands on what comes to ``url``, byte for byte, while it is there."""

    def __init__(self, server: str) -> None:
        host, port = server.removeprefix("http://").split(":")
        self._server = (host, int(port))
        self._port = a_port()
        self._open: set[socket.socket] = set()
        self._door: socket.socket | None = None
        self.back()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self._port}"

    def back(self) -> None:
        door = socket.socket()
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        door.bind(("127.0.0.1", self._port))
        door.listen(64)
        self._door = door
        threading.Thread(target=self._take_in, args=(door,), daemon=True).start()

    def cut(self) -> None:
        """Whoever asks from now on gets no answer, and what is on its way stops."""
        door, self._door = self._door, None
        for each in (door, *self._open):
            if each is not None:
                with suppress(OSError):
                    each.shutdown(socket.SHUT_RDWR)
                each.close()
        self._open.clear()

    def _take_in(self, door: socket.socket) -> None:
        with suppress(OSError):
            while True:
                asked, _ = door.accept()
                there = socket.create_connection(self._server)
                self._open |= {asked, there}
                for one, other in ((asked, there), (there, asked)):
                    threading.Thread(target=self._hand_on, args=(one, other), daemon=True).start()

    def _hand_on(self, one: socket.socket, other: socket.socket) -> None:
        with suppress(OSError):
            while data := one.recv(65536):
                other.sendall(data)
        with suppress(OSError):
            other.shutdown(socket.SHUT_WR)
