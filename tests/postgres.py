"""A PostgreSQL of our own for the tests: a fresh cluster on loopback, gone when the run ends."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import tempfile
from pathlib import Path

from tests.kept import kept, migrate

#: The migrated database that the test databases are copies of.
TEMPLATE = "migrated_template"


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

    def _psql(self, name: str, *options: str) -> None:
        client = [str(self.bin_dir / "psql"), "-qX", "-v", "ON_ERROR_STOP=1", *options, self.address(name)]
        subprocess.run(client, stdout=subprocess.DEVNULL, check=True)

    def address(self, name: str = "postgres") -> str:
        return f"postgresql://farm@127.0.0.1:{self.port}/{name}"

    def start(self) -> str:
        data = str(self.folder / "data")
        self._run("initdb", "-D", data, "-U", "farm", "-A", "trust", "--no-sync", "-E", "UTF8", "--locale=C.UTF-8")
        options = f"-p {self.port} -c listen_addresses=127.0.0.1 -c unix_socket_directories="
        # Nothing of it outlives the run, and statements are too short to be compiled.
        for setting in ("fsync", "synchronous_commit", "full_page_writes", "autovacuum", "jit"):
            options += f" -c {setting}=off"
        options += " -c max_connections=120 -c wal_level=minimal -c max_wal_senders=0"
        self._run("pg_ctl", "-D", data, "-w", "-l", str(self.folder / "log"), "-o", options, "start")
        with kept("postgresql", self._migrated) as dump:
            self._psql("postgres", "-c", f"CREATE DATABASE {TEMPLATE}")
            self._psql(TEMPLATE, "-f", str(dump))
        return self.address()

    def _migrated(self, fresh: Path, before: Path | None) -> None:
        self._psql("postgres", "-c", "CREATE DATABASE migrated")
        if before:
            self._psql("migrated", "-f", str(before))
        migrate(self.address("migrated"))
        with fresh.open("wb") as out:
            subprocess.run([str(self.bin_dir / "pg_dump"), self.address("migrated")], stdout=out, check=True)

    def stop(self) -> None:
        self._run("pg_ctl", "-D", str(self.folder / "data"), "-w", "-m", "immediate", "stop")
        shutil.rmtree(self.folder, ignore_errors=True)
