"""The measure of a load is right: what comes in time, what comes late, and what does not come."""

from __future__ import annotations

import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from tests.load.users import Answers, visit


class Site(BaseHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def do_GET(self) -> None:
        signed_in = self.headers["Cookie"] == "who=me"
        self.send_response(200 if signed_in and self.path == "/good/" else 500)
        self.send_header("Content-Length", "2")
        self.end_headers()
        self.wfile.write(b"ok")

    def log_message(self, *args: object) -> None:
        pass


def test_people_at_a_small_site() -> None:
    with ThreadingHTTPServer(("127.0.0.1", 0), Site) as site:
        thread = threading.Thread(target=site.serve_forever, args=(0.01,))
        thread.start()
        try:
            given = {"users": 4, "seconds": 0.4, "thought": (0.01, 0.02)}
            port = site.server_address[1]
            good = visit([port], ["/good/"], cookie="who=me", **given)
            bad = visit([port], ["/bad/"], cookie="who=me", **given)
            stranger = visit([port], ["/good/"], cookie="", **given)
        finally:
            site.shutdown()
            thread.join()
    gone = visit([port], ["/good/"], cookie="who=me", **given)
    assert len(good.seconds) >= 4 and not good.faults
    assert good.within(60) == 1 and good.within(0) == 0
    assert set(good.pages) == {"/good/"}
    assert not bad.seconds and set(bad.faults) == {"500 /bad/"}
    assert not stranger.seconds and set(stranger.faults) == {"500 /good/"}
    assert set(gone.faults) == {"ConnectionRefusedError"}


def test_shares() -> None:
    answers = Answers()
    assert (answers.within(1), answers.at(95)) == (0, 0)
    for n in range(100):
        answers.note("/", n / 100, "")
    answers.note("/", 0.0, "500 /")
    assert (answers.within(0.29), answers.at(50), answers.at(95), answers.at(99)) == (0.3, 0.5, 0.95, 0.99)
    assert answers.faults == {"500 /": 1}
