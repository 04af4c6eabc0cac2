"""A backup is one moment of the database, and what comes back of it is every row and every guard."""

from __future__ import annotations

import os
import sqlite3
import stat
import subprocess
import sys
import threading
import zipfile
from contextlib import closing
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection, connections

from farmbuild.catalogue.models import Material
from farmbuild.common.backups import archive, keeping, services, sqlite
from farmbuild.common.backups.contents import differences, of_sqlite
from tests.factories import MaterialFactory
from tests.where import ROOT

pytestmark = pytest.mark.django_db(transaction=True)


def backup(*words: object) -> str:
    said = StringIO()
    call_command("backup", *map(str, words), stdout=said)
    return said.getvalue()


def manage(*words: object, database: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), *map(str, words)],
        env=os.environ | {"DATABASE_URL": database},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture
def sqlite_only():
    if connection.vendor != "sqlite":
        pytest.skip("of SQLite")


@pytest.fixture
def kept(sqlite_only, tmp_path):
    MaterialFactory.create_batch(3)
    file = tmp_path / "kept.zip"
    said = backup(file)
    assert str(file) in said and "read back and the same" in said
    return file


@pytest.fixture
def elsewhere(monkeypatch, tmp_path):
    """An empty place for a database."""
    place = tmp_path / "elsewhere" / "db.sqlite3"
    monkeypatch.setattr(services, "_sqlite_file", lambda: place)
    return place


def test_what_comes_back_is_every_row_and_every_guard(kept, tmp_path):
    place = tmp_path / "new" / "db.sqlite3"
    done = manage("restore", kept, database=f"sqlite:///{place}")
    assert done.returncode == 0, done.stderr
    assert "every one the same" in done.stdout
    with closing(sqlite3.connect(connection.settings_dict["NAME"])) as one, closing(sqlite3.connect(place)) as other:
        assert list(one.iterdump()) == list(other.iterdump())
        assert other.execute("SELECT count(*) FROM catalogue_material").fetchone() == (3,)
    again = manage("restore", kept, database=f"sqlite:///{place}")
    assert again.returncode and "has tables already" in again.stderr and "Traceback" not in again.stderr


def test_a_backup_is_of_one_moment_while_others_write(sqlite_only, tmp_path):
    ended = threading.Event()
    written = []

    def write() -> None:
        try:
            while not ended.is_set():
                written.append(MaterialFactory().pk)
        finally:
            connections.close_all()

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for number in range(3):
            services.make(tmp_path / f"{number}.zip")
    finally:
        ended.set()
        writer.join()
    held = [archive.manifest_of(tmp_path / f"{n}.zip")["tables"]["catalogue_material"][0] for n in range(3)]
    assert held == sorted(held)
    assert written and Material.objects.count() == len(written) >= held[-1]


@pytest.mark.skipif(os.name != "posix", reason="there are no modes")
def test_it_is_for_its_owner_alone(kept):
    assert stat.S_IMODE(kept.stat().st_mode) == 0o600


def test_an_older_backup_is_not_written_over(kept):
    before = kept.read_bytes()
    with pytest.raises(CommandError, match="already"):
        backup(kept)
    assert kept.read_bytes() == before


@pytest.mark.parametrize("words", [[], ["a.zip", "--into", "b"]])
def test_one_place_is_said(words):
    with pytest.raises(CommandError, match="Say where"):
        backup(*words)


def test_a_place_that_is_none_is_told_in_words(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(CommandError, match="file"):
        backup(tmp_path / "file" / "kept.zip")


@pytest.mark.skipif(connection.vendor != "sqlite", reason="pg_dump says it itself")
def test_a_full_disk_is_told_in_words_and_leaves_nothing(tmp_path, monkeypatch):
    """SQLite is told that no file may grow beyond ten pages; it then answers as on a full disk."""
    connect = sqlite3.connect

    def no_room(file):
        opened = connect(file)
        opened.execute("PRAGMA max_page_count = 10")
        return opened

    with monkeypatch.context() as patch:
        patch.setattr(sqlite3, "connect", no_room)
        with pytest.raises(CommandError, match="disk is full"):
            backup(tmp_path / "kept.zip")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.skipif(connection.vendor != "sqlite", reason="pg_dump says it itself")
def test_a_database_that_is_none_is_not_told_as_a_full_disk(tmp_path):
    (tmp_path / "db.sqlite3").write_bytes(b"no database of anybody " * 400)
    with pytest.raises(CommandError, match=r"db\.sqlite3 cannot be copied: file is not a database"):
        sqlite.copy(tmp_path / "db.sqlite3", tmp_path / "copied")


@pytest.mark.parametrize("damage", ["cut off", "no zip", "a byte", "empty zip", "missing"])
def test_a_damaged_backup_is_refused_and_nothing_is_made(kept, elsewhere, damage):
    whole = kept.read_bytes()
    if damage == "cut off":
        kept.write_bytes(whole[: len(whole) // 2])
    elif damage == "no zip":
        kept.write_bytes(b"season")
    elif damage == "a byte":
        middle = len(whole) // 2
        kept.write_bytes(whole[:middle] + bytes([whole[middle] ^ 255]) + whole[middle + 1 :])
    elif damage == "empty zip":
        with zipfile.ZipFile(kept, "w"):
            pass
    else:
        kept.unlink()
    with pytest.raises(CommandError, match=r"damaged|no backup|no file"):
        call_command("restore", str(kept))
    assert not elsewhere.exists()


def test_a_backup_of_a_newer_version_is_refused(kept, elsewhere, tmp_path):
    manifest = archive.manifest_of(kept)
    archive.unpack(kept, "sqlite", tmp_path / "database")
    manifest["migrations"].append(["stock", "0999_of_next_year"])
    archive.write(kept, tmp_path / "database", manifest)
    with pytest.raises(CommandError, match="newer farmbuild"):
        call_command("restore", str(kept))
    manifest["migrations"].pop()
    manifest["kind"] = {"sqlite": "postgresql"}[manifest["kind"]]
    archive.write(kept, tmp_path / "database", manifest)
    with pytest.raises(CommandError, match="This backup is of PostgreSQL"):
        call_command("restore", str(kept))
    assert not elsewhere.exists()


def test_what_is_not_the_same_any_more_is_told(kept, elsewhere, tmp_path):
    """Another value, a row and a guard less: each alone is seen."""
    copied = tmp_path / "copied"
    archive.unpack(kept, "sqlite", copied)
    manifest = archive.manifest_of(kept)
    for change, told in (
        (
            "UPDATE catalogue_material SET name = 'Other' WHERE id = (SELECT min(id) FROM catalogue_material)",
            "other values",
        ),
        ("DELETE FROM catalogue_material WHERE id = (SELECT max(id) FROM catalogue_material)", "2 rows instead of 3"),
        ("DROP TABLE axes_accesslog", "axes_accesslog is missing"),
        ("CREATE TABLE more (a)", "more is new"),
    ):
        with closing(sqlite3.connect(copied)) as opened:
            opened.execute("PRAGMA foreign_keys = OFF")
            opened.execute("BEGIN")
            opened.execute(change)
            words = differences(manifest, of_sqlite(opened))
            opened.rollback()
        assert any(told in word for word in words), (change, words)
    with closing(sqlite3.connect(copied)) as opened:
        assert differences(manifest, of_sqlite(opened)) == []
        (trigger,) = opened.execute("SELECT name FROM sqlite_master WHERE type = 'trigger' LIMIT 1").fetchone()
        opened.execute(f'DROP TRIGGER "{trigger}"')
        opened.commit()
        assert differences(manifest, of_sqlite(opened)) == ["triggers, indexes or constraints are others"]
    archive.write(kept, copied, manifest)
    with pytest.raises(CommandError, match="not what was copied"):
        call_command("restore", str(kept))
    assert not elsewhere.exists()


def test_what_an_empty_database_left_beside_it_is_no_news_of_what_comes_back(tmp_path):
    for name in ("db.sqlite3", "db.sqlite3-wal", "db.sqlite3-shm"):
        (tmp_path / name).write_bytes(b"old")
    (tmp_path / "copied").write_bytes(b"rows")
    sqlite.put(tmp_path / "copied", tmp_path / "db.sqlite3")
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"db.sqlite3": b"rows"}


def test_of_a_year_of_nights_the_last_days_weeks_and_months_stay():
    last = datetime(2027, 3, 14, 2, 0, 5, tzinfo=UTC)
    names = [keeping.name_at(last - timedelta(days=days)) for days in range(400)]
    gone = keeping.too_many([*names, "mine.zip", "farmbuild-old.zip"])
    stay = [name for name in names if name not in gone]
    assert stay[:7] == names[:7]
    months = {name[10:17] for name in names}
    assert {name[10:17] for name in stay} >= set(sorted(months)[-12:])
    assert not {"mine.zip", "farmbuild-old.zip"} & set(gone)
    assert len(stay) <= keeping.DAYS + keeping.WEEKS + keeping.MONTHS
    # Tidied night by night the same ones stay as at once.
    nightly: list[str] = []
    for name in reversed(names):
        nightly.append(name)
        nightly = [kept for kept in nightly if kept not in keeping.too_many(nightly)]
    assert sorted(nightly) == sorted(stay)


def test_a_week_that_begins_in_one_year_and_ends_in_the_next_is_one_week():
    """Night by night to Wednesday, 20 January 2027: of the four weeks before Sundays stay, and 31 December of its
    month. 28 December to 3 January is the last week of 2026 (ISO 8601)."""
    last = datetime(2027, 1, 20, 2, 0, 0, tzinfo=UTC)
    names = [keeping.name_at(last - timedelta(days=days)) for days in range(40)]
    stay = [name[10:20] for name in names if name not in keeping.too_many(names)]
    assert stay[7:] == ["2027-01-10", "2027-01-03", "2026-12-31", "2026-12-27"]


def test_into_a_folder_it_is_named_by_the_moment(sqlite_only, tmp_path):
    folder = tmp_path / "nights"
    folder.mkdir()
    old = folder / keeping.name_at(datetime(2020, 1, 1, 1, tzinfo=UTC))
    older = folder / keeping.name_at(datetime(2020, 1, 1, 0, tzinfo=UTC))
    for path in (old, older):
        path.touch()
    assert "1 older one removed" in backup("--into", folder)
    assert old.exists() and not older.exists()
    (made,) = [path for path in folder.iterdir() if path != old]
    assert keeping.too_many([made.name]) == [] and archive.manifest_of(made)["kind"] == "sqlite"


@pytest.mark.postgres
def test_postgresql_comes_back_whole_from_a_dump_made_while_others_write(tmp_path):
    MaterialFactory.create_batch(3)
    file = tmp_path / "kept.zip"
    assert "read back" in backup(file)
    MaterialFactory()
    given = connection.settings_dict
    address = f"postgresql://{given['USER']}@{given['HOST']}:{given['PORT']}"
    with connection.cursor() as cursor:
        cursor.execute("CREATE DATABASE brought_back TEMPLATE template0")
    try:
        done = manage("restore", file, database=f"{address}/brought_back")
        assert done.returncode == 0, done.stderr
        assert "every one the same" in done.stdout
        again = manage("restore", file, database=f"{address}/brought_back")
        assert again.returncode and "has tables already" in again.stderr
    finally:
        with connection.cursor() as cursor:
            cursor.execute("DROP DATABASE brought_back")
