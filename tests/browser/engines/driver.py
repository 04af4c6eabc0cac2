"""Two browsers driven by their own means: Firefox by Marionette, its remote control over a socket, and WebKitGTK by
WebDriver (W3C) over HTTP. Each has a profile of its own and shows itself to nobody.

Debian has no geckodriver, by which Firefox could be asked over HTTP too, so one client for both would not do.
"""

from __future__ import annotations

import http.client
import json
import os
import shutil
import socket
import subprocess
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

FIREFOX = shutil.which("firefox-esr") or shutil.which("firefox")
WEBKIT = shutil.which("WebKitWebDriver")
_BROWSERS = ("/usr/lib/*/webkit2gtk-4.1/MiniBrowser", "/usr/lib/*/webkit2gtk-4.0/MiniBrowser")
_PATIENCE = 40


class DriverError(Exception):
    """What the browser refused, in its words."""


def a_port() -> int:
    with socket.socket() as tried:
        tried.bind(("127.0.0.1", 0))
        return tried.getsockname()[1]


def until(said: Callable[[], Any], seconds: float = _PATIENCE) -> Any:
    """What it gives once that is true."""
    last = time.monotonic() + seconds
    while time.monotonic() < last:
        with suppress(OSError, DriverError):
            if found := said():
                return found
        time.sleep(0.2)
    raise AssertionError(f"not within {seconds} s: {said}")


class Browser:
    """What a walk asks of a browser. ``errors``: since the last time, where the engine tells."""

    name = ""
    tells_errors = False

    def open(self, url: str) -> None:
        raise NotImplementedError

    def run(self, script: str, *given: Any) -> Any:
        """The body of a function; what it returns, once a promise is kept."""
        raise NotImplementedError

    def widen(self, width: int) -> None:
        raise NotImplementedError

    def errors(self) -> list[str]:
        return []

    def close(self) -> None:
        raise NotImplementedError


class Firefox(Browser):
    name, tells_errors = "Firefox", True

    def __init__(self, folder: Path) -> None:
        port = a_port()
        settings = {
            "marionette.port": port,
            # Nothing is asked of anybody outside.
            "app.update.enabled": False,
            "browser.shell.checkDefaultBrowser": False,
            "datareporting.policy.dataSubmissionEnabled": False,
            "network.captive-portal-service.enabled": False,
            "network.connectivity-service.enabled": False,
            "services.settings.server": "http://127.0.0.1:9",
            "toolkit.telemetry.server": "",
            "ui.prefersReducedMotion": 1,
        }
        lines = [f"user_pref({json.dumps(name)}, {json.dumps(value)});" for name, value in settings.items()]
        (folder / "user.js").write_text("\n".join(lines), encoding="utf-8")
        command = [
            FIREFOX,
            "--headless",
            "--no-remote",
            "--marionette",
            "--remote-allow-system-access",
            "--profile",
            str(folder),
        ]
        self._process = subprocess.Popen(
            command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=os.environ | {"HOME": str(folder)}
        )
        self._number = 0
        self._socket = until(lambda: self._greeted(port))
        self._ask("WebDriver:NewSession", {"capabilities": {"alwaysMatch": {}}})

    @staticmethod
    def _greeted(port: int) -> socket.socket:
        made = socket.create_connection(("127.0.0.1", port), timeout=_PATIENCE)
        Firefox._read(made)
        return made

    @staticmethod
    def _read(made: socket.socket) -> Any:
        """A message is its length, a colon and JSON."""
        length = b""
        while (letter := made.recv(1)) != b":":
            if not letter:
                raise OSError("closed")
            length += letter
        data = b""
        while len(data) < int(length):
            data += made.recv(int(length) - len(data))
        return json.loads(data)

    def _ask(self, command: str, given: dict[str, Any]) -> Any:
        self._number += 1
        message = json.dumps([0, self._number, command, given]).encode()
        self._socket.sendall(str(len(message)).encode() + b":" + message)
        _, _, error, result = self._read(self._socket)
        if error:
            raise DriverError(f"{error['error']}: {error['message']}")
        return result.get("value") if isinstance(result, dict) else result

    def open(self, url: str) -> None:
        self._ask("WebDriver:Navigate", {"url": url})

    def run(self, script: str, *given: Any) -> Any:
        return self._ask("WebDriver:ExecuteScript", {"script": script, "args": list(given), "newSandbox": False})

    def _inside(self, script: str, *given: Any) -> Any:
        """The same of the browser itself."""
        self._ask("Marionette:SetContext", {"value": "chrome"})
        try:
            return self.run(script, *given)
        finally:
            self._ask("Marionette:SetContext", {"value": "content"})

    def widen(self, width: int) -> None:
        self._ask("WebDriver:SetWindowRect", {"width": max(width, 500), "height": 1000})
        # No window is narrower than 450 px, but what it shows may be.
        style = "const style = window.gBrowser.selectedBrowser.style;"
        self._inside(f"{style} style.minWidth = style.maxWidth = style.width = `${{arguments[0]}}px`;", width)

    def errors(self) -> list[str]:
        return self._inside(
            """const found = Services.console.getMessageArray()
              .filter((one) => one instanceof Ci.nsIScriptError && !(one.flags & Ci.nsIScriptError.warningFlag))
              .filter((one) => one.sourceName.startsWith("http://127.0.0.1"))
              .map((one) => `${one.sourceName}:${one.lineNumber} ${one.errorMessage}`);
            Services.console.reset();
            return found;"""
        )

    def close(self) -> None:
        with suppress(OSError, DriverError):
            self._ask("Marionette:Quit", {"flags": ["eForceQuit"]})
        self._socket.close()
        _end(self._process)


class WebKit(Browser):
    """Its driver tells no messages of the console, so a page keeps the errors that it hears of itself."""

    name = "WebKitGTK"

    def __init__(self, folder: Path) -> None:
        # The bar of the window is broader than a phone unless its buttons shrink.
        style = folder / ".config" / "gtk-3.0" / "gtk.css"
        style.parent.mkdir(parents=True)
        style.write_text("* { min-width: 0; padding: 0; margin: 0; font-size: 1px; -gtk-icon-transform: scale(0.1); }")
        self._screen, display = a_screen()
        port = a_port()
        home = {
            "HOME": str(folder),
            "XDG_CONFIG_HOME": str(style.parent.parent),
            "XDG_RUNTIME_DIR": str(folder),
            "DISPLAY": display,
            "GDK_BACKEND": "x11",
        }
        # Its own sandbox needs rights that a container may lack.
        home |= {"WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS": "1", "WEBKIT_DISABLE_COMPOSITING_MODE": "1"}
        self._process = subprocess.Popen(
            [WEBKIT, f"--port={port}"], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, env=os.environ | home
        )
        self._port = port
        until(lambda: self._send("GET", "/status")["ready"])
        found = next(path for pattern in _BROWSERS for path in Path("/").glob(pattern.lstrip("/")))
        options = {"webkitgtk:browserOptions": {"binary": str(found), "args": ["--automation"]}}
        made = self._send("POST", "/session", {"capabilities": {"alwaysMatch": options}})
        self._session = f"/session/{made['sessionId']}"

    def _send(self, method: str, path: str, given: dict[str, Any] | None = None) -> Any:
        asked = http.client.HTTPConnection("127.0.0.1", self._port, timeout=_PATIENCE)
        try:
            body = None if given is None else json.dumps(given)
            asked.request(method, path, body, {"Content-Type": "application/json"})
            value = json.loads(asked.getresponse().read())["value"]
        finally:
            asked.close()
        if isinstance(value, dict) and "error" in value:
            raise DriverError(f"{value['error']}: {value['message']}")
        return value

    def open(self, url: str) -> None:
        self._send("POST", f"{self._session}/url", {"url": url})

    def run(self, script: str, *given: Any) -> Any:
        return self._send("POST", f"{self._session}/execute/sync", {"script": script, "args": list(given)})

    def widen(self, width: int) -> None:
        self._send("POST", f"{self._session}/window/rect", {"width": width, "height": 1000})

    def close(self) -> None:
        with suppress(OSError, DriverError):
            self._send("DELETE", self._session)
        _end(self._process)
        _end(self._screen)


def a_screen() -> tuple[subprocess.Popen[bytes], str]:
    """A screen that nobody sees, and its name."""
    read, write = os.pipe()
    process = subprocess.Popen(
        ["Xvfb", "-displayfd", str(write), "-screen", "0", "1600x1200x24", "-nolisten", "tcp"],
        pass_fds=[write],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.close(write)
    with os.fdopen(read) as told:
        return process, f":{told.readline().strip()}"


def _end(process: subprocess.Popen[bytes]) -> None:
    process.terminate()
    with suppress(subprocess.TimeoutExpired):
        process.wait(10)
        return
    process.kill()
