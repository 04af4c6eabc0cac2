"""Another program that is told of changes: https on this machine, with a certificate of its own."""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import ssl
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from threading import Thread
from typing import Any


def make_certificate(folder: Path) -> Path:
    """Certificate and key in one file, for localhost."""
    file, key = folder / "chain.pem", folder / "key.pem"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256", "-nodes", "-days", "2",
         "-subj", "/CN=localhost", "-addext", "subjectAltName=DNS:localhost", "-keyout", key, "-out", file],
        check=True, capture_output=True,
    )  # fmt: skip
    file.write_text(file.read_text() + key.read_text())
    return file


class Receiver:
    """``answers``: statuses that are given one after the other, then ``usual``; a function is called for its own."""

    def __init__(self, port: int) -> None:
        self.port = port
        self.url = f"https://localhost:{port}/told?by=farm"
        self.told: list[tuple[str, dict[str, str], bytes]] = []
        self.answers: list[int | Callable[[], int]] = []
        self.usual = 204
        self.headers: dict[str, str] = {}

    @property
    def marks(self) -> list[str]:
        return [json.loads(body)["data"].get("mark", "trial") for _, _, body in self.told]

    @property
    def names(self) -> list[str]:
        return [headers["webhook-id"] for _, headers, _ in self.told]

    def body(self, at: int = -1) -> dict[str, Any]:
        return json.loads(self.told[at][2])

    def is_ours(self, secret: str, at: int = -1) -> bool:
        """As the other side checks it, written from the words of the specification."""
        _, headers, body = self.told[at]
        signed = headers["webhook-id"].encode() + b"." + headers["webhook-timestamp"].encode() + b"." + body
        key = base64.b64decode(secret.removeprefix("whsec_"))
        wanted = base64.b64encode(hmac.new(key, signed, hashlib.sha256).digest()).decode()
        return f"v1,{wanted}" in headers["webhook-signature"].split(" ")


@contextmanager
def receiving(certificate: Path) -> Iterator[Receiver]:
    receiver: Receiver

    class Handler(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            body = self.rfile.read(int(self.headers["Content-Length"]))
            receiver.told.append((self.path, {name.lower(): value for name, value in self.headers.items()}, body))
            status = receiver.answers.pop(0) if receiver.answers else receiver.usual
            self.send_response(status if isinstance(status, int) else status())
            for name, value in receiver.headers.items():
                self.send_header(name, value)
            self.send_header("Content-Length", "0")
            self.end_headers()

        def log_message(self, *_: Any) -> None: ...

    class Server(ThreadingHTTPServer):
        def handle_error(self, *_: Any) -> None:
            """Whoever asked may be gone."""

    server = Server(("127.0.0.1", 0), Handler)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    context.load_cert_chain(certificate)
    server.socket = context.wrap_socket(server.socket, server_side=True)
    server.daemon_threads = True
    receiver = Receiver(server.server_port)
    thread = Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield receiver
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
