"""A PostgreSQL of our own for the tests: a fresh cluster on loopback, gone when the run ends."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
from pathlib import Path


def binaries() -> Path | None:
    """The folder that holds initdb and postgres, newest version first."""
    for found in sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), reverse=True):
        return found.parent
    on_path = shutil.which("initdb")
    return Path(on_path).parent if on_path else None


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


class Cluster:
    """``start()`` gives a database URL; ``stop()`` removes every trace."""

    def __init__(self, bin_dir: Path) -> None:
        self.bin_dir = bin_dir
        self.folder = Path(tempfile.mkdtemp(prefix="farmbuild-pg-"))
        self.port = _free_port()
        # PostgreSQL refuses to run as root, so root hands it to the account of the Debian package.
        self.user = "postgres" if os.geteuid() == 0 else None
        if self.user:
            shutil.chown(self.folder, self.user)

    def _run(self, *command: str) -> None:
        done = subprocess.run(
            [str(self.bin_dir / command[0]), *command[1:]],
            user=self.user,
            cwd=self.folder,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            check=False,
        )
        if done.returncode:
            raise RuntimeError(f"{command[0]} failed:\n{done.stdout}")

    def start(self) -> str:
        data = str(self.folder / "data")
        self._run("initdb", "-D", data, "-U", "farm", "-A", "trust", "--no-sync", "-E", "UTF8", "--locale=C.UTF-8")
        options = f"-p {self.port} -c listen_addresses=127.0.0.1 -c unix_socket_directories="
        options += " -c fsync=off -c max_connections=120"
        self._run("pg_ctl", "-D", data, "-w", "-l", str(self.folder / "log"), "-o", options, "start")
        return f"postgresql://farm@127.0.0.1:{self.port}/postgres"

    def stop(self) -> None:
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-w", "-m", "immediate", "stop")
        shutil.rmtree(self.folder, ignore_errors=True)
