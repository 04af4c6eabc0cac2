"""The two commands, run as a person runs them: no web server, no database."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from farmbuild.planning.season.snapshot import plan_from_json
from farmbuild.workbooks import services
from farmbuild.workbooks.folders import FolderError, write_folder
from farmbuild.workbooks.progress import Progress
from farmbuild.workbooks.project import project_template, write_project
from farmbuild.workbooks.summary import cautions, summary
from tests.waiting import until
from tests.where import ROOT
from tests.workbooks.books import small_plan, small_season


def run(folder: Path, *command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), *command],
        cwd=folder,
        env=os.environ | {"FARMBUILD_DATA": str(folder)},
        capture_output=True,
        text=True,
        check=False,
        timeout=300,
    )


@pytest.fixture
def filled(tmp_path: Path) -> Path:
    path = tmp_path / "season.xlsx"
    path.write_bytes(write_project(small_season()))
    return path


def planned(*args: object) -> str:
    out = io.StringIO()
    call_command("plan", *map(str, args), stdout=out, stderr=io.StringIO())
    return out.getvalue()


def test_template_then_plan_without_a_database(tmp_path: Path, filled: Path) -> None:
    made = run(tmp_path, "project_template", "new.xlsx")
    assert made.returncode == 0, made.stderr
    assert (tmp_path / "new.xlsx").read_bytes() == project_template()
    done = run(tmp_path, "plan", "season.xlsx", "--out", "orders")
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("3 houses: 4 orders for ")
    names = {path.name for path in (tmp_path / "orders").iterdir()}
    assert {"cut-list.xlsx", "take-off.xlsx", "leftovers.xlsx", "plan.json"} < names
    assert sum(name.startswith("order-20270201-") for name in names) == 4
    assert all(name in done.stdout for name in names)
    assert plan_from_json(json.loads((tmp_path / "orders" / "plan.json").read_text())) == small_plan()
    assert not list(tmp_path.glob("*.sqlite3*"))
    assert not list(tmp_path.glob(".*being-written*"))


def test_template_replaces_nothing_unasked(tmp_path: Path) -> None:
    path = tmp_path / "mine.xlsx"
    path.write_text("dear to me")
    with pytest.raises(CommandError, match="is already there"):
        call_command("project_template", str(path))
    assert path.read_text() == "dear to me"
    call_command("project_template", str(path), "--overwrite", stdout=io.StringIO())
    assert path.read_bytes() == project_template()
    with pytest.raises(CommandError, match=r"has to end in \.xlsx"):
        call_command("project_template", str(tmp_path / "mine.doc"))
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("project_template", str(tmp_path / "no" / "mine.xlsx"))


def test_problems_are_listed_and_nothing_is_written(tmp_path: Path) -> None:
    (tmp_path / "season.xlsx").write_bytes(project_template())
    done = run(tmp_path, "plan", "season.xlsx", "--out", "orders")
    assert done.returncode != 0
    assert "season.xlsx has 6 things to correct. Nothing was written." in done.stderr
    assert "Project, row 4, Your name: This cell is empty." in done.stderr
    assert "Houses: There is no house to plan." in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "orders").exists()


@pytest.mark.parametrize(
    ("name", "data", "words"),
    [
        ("gone.xlsx", None, "There is no file"),
        ("empty.xlsx", b"", "empty.xlsx is empty"),
        ("old.xlsx", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 512, "old .xls format"),
        ("note.xlsx", b"hello", "is not a spreadsheet"),
    ],
)
def test_files_that_cannot_be_read(tmp_path: Path, name: str, data: bytes | None, words: str) -> None:
    if data is not None:
        (tmp_path / name).write_bytes(data)
    with pytest.raises(CommandError, match=words):
        planned(tmp_path / name, "--out", tmp_path / "orders")
    assert not (tmp_path / "orders").exists()


def test_same_input_gives_the_same_files(tmp_path: Path, filled: Path) -> None:
    for name in ("one", "two"):
        planned(filled, "--out", tmp_path / name)
    files = [{path.name: path.read_bytes() for path in (tmp_path / name).iterdir()} for name in ("one", "two")]
    assert files[0] == files[1]


def test_a_folder_with_files_is_kept(tmp_path: Path, filled: Path) -> None:
    out = tmp_path / "orders"
    out.mkdir()
    (out / "mine.txt").write_text("dear to me")
    with pytest.raises(CommandError, match="already holds files"):
        planned(filled, "--out", out)
    assert [path.name for path in out.iterdir()] == ["mine.txt"]
    said = planned(filled, "--out", out, "--overwrite")
    assert "orders-before-1" in said
    assert (tmp_path / "orders-before-1" / "mine.txt").read_text() == "dear to me"
    assert (out / "plan.json").exists() and not (out / "mine.txt").exists()


def test_when_writing_fails_half_way_nothing_has_changed(
    tmp_path: Path, filled: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(**_: object) -> bytes:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(services, "cut_list_workbook", broken)
    before = sorted(tmp_path.iterdir())
    with pytest.raises(CommandError, match=r"No space left on device\. Nothing was written"):
        planned(filled, "--out", tmp_path / "orders")
    assert sorted(tmp_path.iterdir()) == before


def test_a_folder_is_put_back_when_the_last_step_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    out = tmp_path / "orders"
    write_folder(out, [("a", b"old")], overwrite=False)
    rename = Path.rename

    def refuse(path: Path, target: Path) -> Path:
        if "being-written" in path.name:
            raise OSError(1, "Refused")
        return rename(path, target)

    monkeypatch.setattr(Path, "rename", refuse)
    with pytest.raises(OSError, match="Refused"):
        write_folder(out, [("a", b"new")], overwrite=True)
    assert [path.name for path in tmp_path.iterdir()] == ["orders"]
    assert (out / "a").read_bytes() == b"old"


def test_a_file_or_a_link_is_no_folder(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    (tmp_path / "link").symlink_to(tmp_path, target_is_directory=True)
    for name in ("file", "link"):
        with pytest.raises(FolderError, match="is not a folder"):
            write_folder(tmp_path / name, [("a", b"")], overwrite=True)


def test_progress_shows_a_long_step_and_keeps_quiet_about_short_work() -> None:
    quiet, told = io.StringIO(), io.StringIO()
    with Progress(quiet) as progress:
        progress(1, 2, "Reading")
    with Progress(told, every=0.02) as progress:
        progress(3, 40, "Cutting 1-3/8 rail")
        until(told.getvalue)
    assert quiet.getvalue() == ""
    assert told.getvalue() == "Cutting 1-3/8 rail: 3 of 40\n"


def test_the_answer_and_what_to_look_at() -> None:
    season, plan = small_season(), small_plan()
    total = sum(order.total for order in plan.orders)
    assert f"4 orders for ${total:,.2f} in all, to go out by " in summary(season, plan)
    assert "nothing to order" in summary(season, replace(plan, orders=()))
    first = plan.orders[0]
    late = replace(first, lines=(replace(first.lines[0], late_days=3), *first.lines[1:]))
    open_plan = replace(
        plan,
        orders=(late, *plan.orders[1:]),
        together=replace(plan.together, optimal=False, bound=plan.together.cost - Decimal("2.5")),
    )
    said = cautions(season, open_plan)
    assert said[0].endswith("1 line comes late, by up to 3 days.")
    assert "Cheaper cuts and offers may exist, by at most $2.50." in said
    # One that an earlier version stored chose the offers for given cuts.
    buying = replace(plan.buying, optimal=False, bound=plan.buying.cost - Decimal("3.5"))
    said = cautions(season, replace(open_plan, buying=buying, together=None))
    assert "A cheaper choice of offers may exist, by at most $3.50." in said
