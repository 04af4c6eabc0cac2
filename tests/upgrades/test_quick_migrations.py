"""What new databases, and those of tests, are migrated by makes the same as Django's own way."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from contextlib import closing, nullcontext
from pathlib import Path

import pytest
from django.db.migrations.recorder import MigrationRecorder
from django.db.migrations.state import ProjectState

from farmbuild.common import quick_migrations
from tests.kept import copy_sqlite
from tests.size import LONG
from tests.where import ROOT

MADE = "SELECT type, name, tbl_name, sql FROM sqlite_master ORDER BY 1, 2"
FILLED = "SELECT app_label, model FROM django_content_type ORDER BY 1, 2"


def said(path: Path, *asked: str) -> list[list[tuple[object, ...]]]:
    with closing(sqlite3.connect(path)) as database:
        return [database.execute(sql).fetchall() for sql in asked]


@pytest.mark.skipif(not LONG, reason="a minute; runs with FARMBUILD_LONG=1")
def test_the_kept_database_is_what_the_command_makes(tmp_path):
    plain, quick = tmp_path / "plain.sqlite3", tmp_path / "quick.sqlite3"
    copy_sqlite(quick)
    command = [sys.executable, "manage.py", "migrate", "--verbosity=0"]
    subprocess.run(command, cwd=ROOT, env=os.environ | {"DATABASE_URL": f"sqlite:///{plain}"}, check=True)
    assert said(plain, MADE, FILLED) == said(quick, MADE, FILLED)


@pytest.mark.parametrize("empty", [True, False])
@pytest.mark.parametrize("fails", [True, False])
def test_what_is_kept_goes_the_usual_way_and_so_does_what_comes_after(db, monkeypatch, empty, fails):
    usual, ways = ProjectState.add_model, []

    def call_command(name, **how):
        ways.append((name, ProjectState.add_model is usual))
        if fails:
            raise RuntimeError

    monkeypatch.setattr(quick_migrations, "call_command", call_command)
    if empty:
        monkeypatch.setattr(MigrationRecorder, "applied_migrations", lambda recorder: {})
    with pytest.raises(RuntimeError) if fails else nullcontext():
        quick_migrations.migrate()
    assert ways == [("migrate", not empty)]
    assert ProjectState.add_model is usual
