"""Keeps the databases of a commit, with the demo in them, for ``test_kept``:

    .venv/bin/python -m tests.upgrades.keep COMMIT

writes ``kept/COMMIT.sqlite.sql.xz`` and ``kept/COMMIT.postgresql.sql.xz``, made by the code of that commit, and
``kept/COMMIT.json`` with what no later version may read otherwise: digests of plans and the pieces of each lot. Needs
git and the programs of PostgreSQL. The dumps are plain SQL, so no version of a client matters where they are read.
"""

from __future__ import annotations

import json
import lzma
import os
import sqlite3
import subprocess
import sys
import tempfile
from contextlib import closing
from pathlib import Path
from typing import Any

import psycopg

from tests.postgres import Cluster, binaries
from tests.where import ROOT

KEPT = Path(__file__).resolve().parent / "kept"
#: Those that are kept, the oldest first.
COMMITS = ("4414d06", "4938ab67", "b7a0e9dd", "d213d733")
PLANS = """
SELECT o.slug, p.number, p.inputs_digest, p.result_digest
FROM plans_plan p JOIN orgs_organisation o ON o.id = p.organisation_id ORDER BY 1, 2
"""
LOTS = """
SELECT o.slug, l.reference, sum(m.quantity)
FROM stock_lot l JOIN orgs_organisation o ON o.id = l.organisation_id JOIN stock_movement m ON m.lot_id = l.id
GROUP BY l.id, o.slug, l.reference ORDER BY 1, 2
"""
#: Whose it is and who may read it is for where it is loaded.
BARE = ("--inserts", "--rows-per-insert=200", "--no-owner", "--no-privileges", "--no-comments", "--no-tablespaces")
#: Commands of psql, and a setting that older servers do not know.
NOT_SQL = ("\\restrict ", "\\unrestrict ", "SET transaction_timeout ")


def load_demo(code: Path, address: str) -> None:
    """Migrates the database and loads it, by the code in the folder ``code``."""
    with tempfile.TemporaryDirectory() as folder:
        ours = {name: value for name, value in os.environ.items() if not name.startswith("FARMBUILD_")}
        command = [sys.executable, "manage.py", "demo", "--no-serve", "--out", f"{folder}/out"]
        given = ours | {"FARMBUILD_DATA": folder, "DATABASE_URL": address}
        subprocess.run(command, cwd=code, env=given, stdout=subprocess.DEVNULL, check=True)


def facts(ask: Any) -> dict[str, Any]:
    """What ``COMMIT.json`` holds; ``create_request`` gives the rows of a query."""
    return {
        "plans": [list(row) for row in ask(PLANS)],
        "lots": [[slug, reference, int(pieces)] for slug, reference, pieces in ask(LOTS)],
    }


def keep_sqlite(code: Path, path: Path) -> dict[str, Any]:
    with tempfile.TemporaryDirectory() as folder:
        load_demo(code, f"sqlite:///{folder}/kept.sqlite3")
        with closing(sqlite3.connect(f"{folder}/kept.sqlite3")) as connection:
            write(path, "\n".join(connection.iterdump()))
            return facts(lambda query: connection.execute(query).fetchall())


def keep_postgresql(code: Path, path: Path) -> dict[str, Any]:
    folder = binaries()
    if folder is None:
        raise SystemExit("PostgreSQL is not installed: apt-get install postgresql")
    cluster = Cluster(folder)
    address = cluster.start()
    try:
        load_demo(code, address)
        dump = [str(folder / "pg_dump"), *BARE, address]
        made = subprocess.run(dump, stdout=subprocess.PIPE, text=True, check=True).stdout
        write(path, "\n".join(line for line in made.splitlines() if not line.startswith(NOT_SQL)))
        with psycopg.connect(address) as connection:
            return facts(lambda query: connection.execute(query).fetchall())
    finally:
        cluster.stop()


def write(path: Path, sql: str) -> None:
    path.write_bytes(lzma.compress(sql.encode(), preset=9 | lzma.PRESET_EXTREME))


def main(commit: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        code = Path(folder) / "code"
        subprocess.run(["git", "worktree", "add", "--quiet", "--detach", str(code), commit], cwd=ROOT, check=True)
        try:
            KEPT.mkdir(exist_ok=True)
            one = keep_sqlite(code, KEPT / f"{commit}.sqlite.sql.xz")
            other = keep_postgresql(code, KEPT / f"{commit}.postgresql.sql.xz")
        finally:
            subprocess.run(["git", "worktree", "remove", "--force", str(code)], cwd=ROOT, check=True)
    if one != other:
        raise SystemExit("The two databases hold different plans or lots.")
    (KEPT / f"{commit}.json").write_text(json.dumps(one, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main(*sys.argv[1:])
