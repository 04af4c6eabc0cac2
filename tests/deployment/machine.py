"""A machine as the written files set it up: its units are started line by line, as systemd would."""

from __future__ import annotations

import shlex
import shutil
import signal
import socket
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

from farmbuild.common.deployment.filling import Place, filled_files
from tests.waiting import until
from tests.where import ROOT

HOST = "farm.example.org"


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def listens(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


class Machine:
    def __init__(self, folder: Path, database: str) -> None:
        self.folder, self.database, self.running = folder, database, []
        for name in ("data", "etc", "nginx"):
            (folder / name).mkdir(mode=0o700)
        self.certificate, key = folder / "etc" / "chain.pem", folder / "etc" / "key.pem"
        subprocess.run(
            ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", f"/CN={HOST}",
             "-addext", f"subjectAltName=DNS:{HOST}", "-keyout", key, "-out", self.certificate],
            check=True, capture_output=True,
        )  # fmt: skip
        self.port, self.http, self.https = free_port(), free_port(), free_port()
        place = Place(
            host=HOST,
            program=str(ROOT),
            data=str(folder / "data"),
            etc=str(folder / "etc"),
            database=database,
            port=self.port,
            http=self.http,
            https=self.https,
            certificate=str(self.certificate),
            key=str(key),
        )
        self.files = filled_files(place)
        for name, text in self.files.items():
            (folder / "etc" / name).write_text(text)

    @property
    def environment(self) -> dict[str, str]:
        lines = (line for line in self.files["farmbuild.env"].splitlines() if line and not line.startswith("#"))
        return dict(line.split("=", 1) for line in lines)

    def commands(self, unit: str) -> list[list[str]]:
        """Of each ``ExecStart``; the program is that of this run, wherever its environment lies."""
        lines = (line for line in self.files[unit].splitlines() if line.startswith("ExecStart="))
        bin_dir = str(Path(sys.executable).parent)
        own = f"{ROOT}/.venv/bin/"
        return [shlex.split(line.removeprefix("ExecStart=").replace(own, f"{bin_dir}/")) for line in lines]

    def run(self, *command: str) -> subprocess.CompletedProcess[str]:
        """To its end."""
        return subprocess.run(command, cwd=ROOT, env=self._env(), capture_output=True, text=True, check=False)

    def manage(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return self.run(sys.executable, "manage.py", *arguments)

    def start(self, command: Sequence[str], log: str) -> subprocess.Popen[bytes]:
        with (self.folder / log).open("ab") as out:
            found = subprocess.Popen(command, cwd=ROOT, env=self._env(), stdout=out, stderr=out)
        self.running.append(found)
        return found

    def start_web_server(self) -> None:
        folder = self.folder / "nginx"
        temporary = "".join(
            f"{name}_temp_path {folder}/{name}; " for name in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
        )
        (folder / "nginx.conf").write_text(
            f"daemon off; pid {folder}/pid; error_log {folder}/error.log; events {{}}\n"
            f"http {{ access_log off; {temporary}\ninclude {self.folder}/etc/nginx.conf; }}\n"
        )
        self.start(["nginx", "-e", f"{folder}/error.log", "-p", f"{folder}", "-c", f"{folder}/nginx.conf"], "nginx.log")
        until(lambda: listens(self.https), 60)

    def said(self, log: str) -> str:
        return (self.folder / log).read_text()

    def _env(self) -> dict[str, str]:
        return {"PATH": "/usr/local/bin:/usr/bin:/bin:/usr/sbin", "LANG": "C.UTF-8", **self.environment}

    def stop(self) -> None:
        for found in self.running:
            if found.poll() is None:
                found.send_signal(signal.SIGTERM)
        for found in self.running:
            try:
                found.wait(20)
            except subprocess.TimeoutExpired:
                found.kill()
                found.wait()


def nginx_is_there() -> bool:
    return shutil.which("nginx", path="/usr/sbin:/usr/bin:/usr/local/sbin") is not None
