"""What the program is made of: locked alike everywhere, under licences that are listed and let anybody use it."""

import json
import os
import re
import subprocess
from pathlib import Path

import pytest
from packaging.utils import canonicalize_name

from tests.licences import LIST, MAY_STAND, listed, locked

ROOT = Path(__file__).resolve().parents[2]


def test_every_licence_is_listed_and_may_stand() -> None:
    assert LIST.read_text() == listed(), "write the list anew: python -m tests.licences"
    for line in LIST.read_text().splitlines():
        package, licence = line.split(": ")
        assert set(re.split(" AND | OR ", licence)) <= MAY_STAND, package


def test_a_server_has_the_versions_that_are_tested() -> None:
    run, postgres, dev = locked("run.txt"), locked("postgres.txt"), locked("dev.txt")
    assert {name for name, _ in postgres - run} == {"psycopg", "psycopg-binary"}
    assert run <= postgres <= dev


@pytest.mark.skipif(not os.environ.get("FARMBUILD_LONG"), reason="installs everything anew: the long run does it")
def test_the_bill_of_materials_names_what_is_locked_and_no_more(tmp_path: Path) -> None:
    """Its form is held by cyclonedx-py itself against the scheme of CycloneDX 1.6 (ECMA-424)."""
    # The audit behind it asks the internet; its word is for whoever runs the command.
    subprocess.run([ROOT / ".ci" / "supply", tmp_path], check=False, capture_output=True)
    bill = json.loads((tmp_path / "bill-of-materials.json").read_text())
    named = {(canonicalize_name(part["name"]), part["version"]) for part in bill["components"]}
    here = locked("postgres.txt")
    assert named <= here
    # What is for another system alone is not installed.
    assert {name for name, _ in here} - {name for name, _ in named} <= {"colorama", "tzdata"}
