"""A wheel of the project, installed in an environment and a folder of its own, does the main job there, and goes on
where it was stopped."""

from __future__ import annotations

import os
import site
import socket
import subprocess
import sys
import urllib.request
import venv
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.demo.test_interrupted import all_is_there_once, stop_while_loading
from tests.deployment.machine import listens
from tests.kept import copy_sqlite
from tests.size import LONG
from tests.waiting import until
from tests.where import ROOT

#: Of this run, or what would lead back to the clone.
_OURS = ("PYTHONPATH", "DJANGO_SETTINGS_MODULE", "DATABASE_URL", "FARMBUILD_HOSTS")


@pytest.fixture(scope="module")
def installed(tmp_path_factory) -> Path:
    """Folder of the environment. What farmbuild needs is installed anew in the long run, else lent by this one."""
    built, place = tmp_path_factory.mktemp("built"), tmp_path_factory.mktemp("environment")
    quiet = ["--quiet", "--disable-pip-version-check", "--no-deps"]
    made = [sys.executable, "-m", "pip", "wheel", *quiet, "--no-build-isolation", "--wheel-dir", str(built), str(ROOT)]
    subprocess.run(made, check=True, cwd=built)
    (wheel,) = built.glob("farmbuild-*.whl")
    venv.create(place, with_pip=LONG, symlinks=True)
    if LONG:
        pip = [str(place / "bin" / "pip"), "install", "--quiet"]
        subprocess.run([*pip, "--require-hashes", "-r", str(ROOT / ".locks" / "run.txt")], check=True)
    else:
        # pip of this run installs into that environment.
        pip = [sys.executable, "-m", "pip", "--python", str(place / "bin" / "python"), "install", "--quiet"]
        (packages,) = place.glob("lib/python*/site-packages")
        (packages / "lent.pth").write_text("\n".join(site.getsitepackages()))
    subprocess.run([*pip, "--no-deps", str(wheel)], check=True)
    return place


def environment(folder: Path) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if name not in _OURS}
    return kept | {"HOME": str(folder), "FARMBUILD_DATA": ""}


def run(installed: Path, folder: Path, *arguments: str) -> str:
    command = [str(installed / "bin" / "farmbuild"), *arguments]
    done = subprocess.run(command, cwd=folder, env=environment(folder), capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_it_plans_a_season_from_a_spreadsheet_and_loads_the_invented_one(installed: Path, tmp_path: Path) -> None:
    run(installed, tmp_path, "template", "season.xlsx")
    assert (tmp_path / "season.xlsx").stat().st_size > 5_000
    # Data lie in the home folder of whoever starts it, not in the environment.
    (tmp_path / "farmbuild").mkdir(exist_ok=True)
    copy_sqlite(tmp_path / "farmbuild" / "db.sqlite3")
    # Stopped on the way it goes on, with nothing there twice.
    command = ("demo", "--no-serve", "--out", "orders")
    stop_while_loading(
        lambda: begin(installed, tmp_path, *command, stderr=subprocess.PIPE), tmp_path / "farmbuild", seconds=1
    )
    with served(installed, tmp_path, "demo", "--out", "orders") as (address, said):
        all_is_there_once(tmp_path / "farmbuild", tmp_path / "orders", said)
        assert len(list((tmp_path / "orders").glob("order-*.xlsx"))) == 4
        assert not list(installed.glob("**/*.sqlite3"))
        page = urllib.request.urlopen(f"{address}/sign-in/").read().decode()
        assert "farm of your own" in page
        for link in ("/static/farmbuild/look.css", "/static/farmbuild/page.js"):
            assert link in page
            assert len(urllib.request.urlopen(address + link).read()) > 1_000


def begin(installed: Path, folder: Path, *arguments: str, **more: int) -> subprocess.Popen[str]:
    command = [str(installed / "bin" / "farmbuild"), *arguments]
    return subprocess.Popen(command, cwd=folder, env=environment(folder), stdout=subprocess.PIPE, text=True, **more)


@contextmanager
def served(installed: Path, folder: Path, *arguments: str) -> Iterator[tuple[str, str]]:
    """Its address, and what it said until it served."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    process = begin(installed, folder, *arguments, "--port", str(port))
    try:
        assert process.stdout is not None
        said = ""
        while "Stop it with" not in said:
            line = process.stdout.readline()
            assert line, f"it ended: {said}"
            said += line
        until(lambda: listens(port))
        yield f"http://127.0.0.1:{port}", said
    finally:
        process.terminate()
        process.wait(timeout=30)
