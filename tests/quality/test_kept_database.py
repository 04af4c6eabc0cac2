"""The kept migrated database: made once, and never used where it is half made, spoiled or of other migrations."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests import kept


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setattr(kept, "FOLDER", tmp_path / "kept")
    return tmp_path / "kept"


def taken(make) -> bytes:
    with kept.kept("kind", make) as path:
        return path.read_bytes()


def never(fresh: Path, before: Path | None) -> None:
    raise AssertionError("made again")


def test_made_once_and_again_only_after_what_it_is_made_from(folder, monkeypatch):
    assert taken(lambda fresh, before: fresh.write_bytes(b"first")) == b"first"
    assert taken(never) == b"first"
    monkeypatch.setattr(kept, "digest", lambda: "other")
    assert taken(lambda fresh, before: fresh.write_bytes(b"second")) == b"second"
    # Both stay, for whoever goes back; the oldest go where there are many.
    assert sorted(path.suffix for path in folder.iterdir()) == ["", ".json", ".json", ".kind", ".kind"]
    for number in range(kept.MOST + 2):
        monkeypatch.setattr(kept, "digest", lambda number=number: f"more{number}")
        taken(lambda fresh, before: fresh.write_bytes(b"more"))
    assert len([*folder.glob("*.kind")]) == len([*folder.glob("*.json")]) == kept.MOST


def test_what_is_half_made_or_spoiled_is_made_again(folder):
    def breaks_off(fresh: Path, before: Path | None) -> None:
        fresh.write_bytes(b"half")
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        taken(breaks_off)
    assert taken(lambda fresh, before: fresh.write_bytes(b"whole")) == b"whole"
    [path] = folder.glob("*.kind")
    path.write_bytes(b"who")
    assert taken(lambda fresh, before: fresh.write_bytes(b"again")) == b"again"


def test_a_changed_migration_settings_or_default_is_another_digest(tmp_path, monkeypatch):
    for name in (
        "farmbuild/settings.py",
        "farmbuild/room/models/rows.py",
        ".locks/dev.txt",
        "farmbuild/common/quick_migrations.py",
    ):
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text("one")
    migration = tmp_path / "farmbuild/room/migrations/0001_initial.py"
    migration.parent.mkdir(parents=True)
    migration.write_text("import farmbuild.room.models.rows\ndefault=farmbuild.room.models.rows.one")
    monkeypatch.setattr(kept, "ROOT", tmp_path)
    seen = {kept.digest()}
    for path in [path for path in tmp_path.rglob("*") if path.is_file()]:
        before = path.read_text()
        path.write_text(before + "#")
        seen.add(kept.digest())
        path.write_text(before)
    assert len(seen) == 6
    assert kept.digest() in seen


def test_where_migrations_were_only_added_the_file_before_is_carried_on(folder, monkeypatch):
    first, second, third = (f"room/migrations/000{number}.py" for number in (1, 2, 3))
    other = "room/fields.py"
    steps = [
        ({first: "a", other: "x"}, None),
        ({first: "a", second: "b", other: "x"}, b"1"),
        # Written anew, as while one works on it: the nearest goes on.
        ({first: "a", second: "c", other: "x"}, b"1"),
        ({first: "a", second: "c", third: "d", other: "x"}, b"3"),
        ({first: "a", second: "c", other: "y"}, None),
        ({first: "a", second: "c", other: "y", "room/more.py": "z"}, None),
        ({second: "c", other: "y", "room/more.py": "z"}, None),
    ]
    for number, (sums, carried) in enumerate(steps, start=1):
        monkeypatch.setattr(kept, "digest", lambda number=number: f"digest{number}")
        monkeypatch.setattr(kept, "_sums", lambda sums=sums: sums)

        def make(fresh: Path, before: Path | None, number: int = number, carried: bytes | None = carried) -> None:
            assert not fresh.exists()
            assert (before and before.read_bytes()) == carried, number
            fresh.write_bytes(str(number).encode())

        with kept.kept("sqlite3", make) as path:
            assert path.read_bytes() == str(number).encode()
    # What was spoiled meanwhile is not carried on.
    path.write_bytes(b"spoiled")
    with kept.kept("sqlite3", lambda fresh, before: fresh.write_bytes(b"new" * (before is None))) as path:
        assert path.read_bytes() == b"new"
