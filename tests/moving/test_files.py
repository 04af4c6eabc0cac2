"""A file that is not as it was written is refused in words, and nothing of it is stored."""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from uuid import uuid4

import pytest
from django.core.management.base import CommandError

from farmbuild.moving.archive import Package
from farmbuild.moving.coming import _same_person, read_export
from farmbuild.moving.going import write_export
from farmbuild.moving.ownership import owned_models
from farmbuild.orgs.models import Organisation, User
from tests.factories import LotFactory, MembershipFactory, OrganisationFactory, UserFactory

pytestmark = pytest.mark.django_db
LOTS = "rows/stock.Lot.jsonl"
Parts = dict[str, bytes]


@pytest.fixture
def written(db) -> bytes:
    """Of an organisation that is another one here by now."""
    organisation = OrganisationFactory(name="Invented Orchard", slug="orchard")
    user = UserFactory(email="someone@example.org", username="someone")
    MembershipFactory(organisation=organisation, user=user)
    lot = LotFactory(material__organisation=organisation)
    assert lot.material.organisation == organisation
    with TemporaryDirectory() as folder:
        file = Path(folder) / "orchard.zip"
        write_export(organisation=organisation, to=file)
        data = file.read_bytes()
    Organisation.objects.filter(pk=organisation.pk).update(identity=uuid4(), slug="before")
    return data


@pytest.fixture
def exported(tmp_path, written) -> Path:
    file = tmp_path / "orchard.zip"
    file.write_bytes(written)
    return file


def counts() -> list[int]:
    return [User.objects.count(), *(model._base_manager.count() for model in owned_models())]


def rewritten(file: Path, change: Callable[[Parts], None], **how: object) -> Path:
    """The file with some of its parts changed, written anew."""
    with zipfile.ZipFile(file) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    change(parts)
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    return file


def manifest(parts: Parts, /, **values: object) -> None:
    parts["manifest.json"] = json.dumps(json.loads(parts["manifest.json"]) | values).encode()


def put(parts: Parts, name: str, data: bytes) -> None:
    """With its digest, as whoever knows the form would."""
    parts[name] = data
    told = json.loads(parts["manifest.json"])["parts"]
    manifest(parts, parts=told | {name: [len(data), hashlib.sha256(data).hexdigest()]})


def change_row(parts: Parts, **values: object) -> None:
    row = json.loads(parts[LOTS].splitlines()[0]) | values
    put(parts, LOTS, json.dumps(row).encode() + b"\n")


def refused(file: Path, words: str, **how: object) -> None:
    before = counts()
    with pytest.raises(CommandError, match=words):
        read_export(file=file, **how)
    assert counts() == before


def test_it_comes_in_beside_others(exported):
    came = read_export(file=exported)
    assert came.organisation.slug == "orchard" and came.rows > 5
    assert [name.partition("(")[2].rstrip(")") for name in came.new_people] == ["someone-2"]
    refused(exported, "Invented Orchard is here already, at /of/orchard/")


def test_two_addresses_are_told_apart(exported):
    Organisation.objects.filter(slug="before").update(slug="orchard")
    refused(exported, "has the address /of/orchard/ here. Give this one another")
    assert read_export(file=exported, address="orchard-2").organisation.slug == "orchard-2"


def test_an_address_that_is_none_is_refused(exported):
    refused(exported, "letters, numbers", address="two words/..")


def test_whoever_has_the_same_email_is_the_same_when_asked(exported):
    came = read_export(file=exported, match_email=True)
    assert came.known_people and not came.new_people
    user = User.objects.get(email="someone@example.org")
    assert user.memberships.count() == 2 and user.has_usable_password()


def test_the_same_email_is_the_same_person_where_it_can_be_nobody_else():
    one = UserFactory(email="one@example.org")
    UserFactory(email="left@example.org", is_active=False)
    UserFactory(email="visits@example.org", visitor=True)

    def same(email: str, *, visitor: bool = False, taken: tuple[int, ...] = ()) -> User | None:
        return _same_person({"email": email, "visitor": visitor}, taken)

    assert same("One@example.org") == one
    assert same("one@example.org", taken=(one.pk,)) is None
    assert same("one@example.org", visitor=True) is None
    assert [same(email) for email in ("left@example.org", "visits@example.org", "")] == [None] * 3


def test_a_file_of_a_row_is_as_long_as_written_and_the_same(exported):
    with zipfile.ZipFile(exported) as archive:
        data = archive.read(LOTS)
    told = {"file": LOTS, "size": len(data), "sha256": hashlib.sha256(data).hexdigest()}
    with Package.opened(exported) as package:
        assert package.data_of(told) == data
        for wrong in ({"size": len(data) + 1}, {"sha256": "0" * 64}):
            with pytest.raises(CommandError, match="is not what was written"):
                package.data_of(told | wrong)


def cut(parts: Parts) -> None:
    put(parts, LOTS, b"")


def longer(parts: Parts) -> None:
    put(parts, LOTS, parts[LOTS] * 2)


CHANGES = {
    "a byte": (
        lambda parts: parts.update({LOTS: parts[LOTS].replace(b"Invented", b"invented")[:-2] + b"\n"}),
        "damaged",
    ),
    "no rows": (cut, "has 0 rows instead of 1|names row|invalid foreign key|violates foreign key"),
    "a row twice": (longer, "did not take|UNIQUE"),
    "a part more": (lambda parts: parts.update({"rows/stock.More.jsonl": b""}), "is not whole"),
    "a part less": (lambda parts: parts.pop(LOTS) and None, "is not whole"),
    "no manifest": (lambda parts: parts.pop("manifest.json") and None, "no export of farmbuild"),
    "another manifest": (lambda parts: parts.update({"manifest.json": b"[1]"}), "manifest.json is damaged"),
    "another form": (lambda parts: manifest(parts, form="else"), "no export of farmbuild"),
    "a newer form": (lambda parts: manifest(parts, version=2), "by a newer farmbuild"),
    "newer": (
        lambda parts: manifest(parts, migrations=[["stock", "9999_later"]]),
        r"newer farmbuild \(stock 9999_later\)",
    ),
    "older": (lambda parts: manifest(parts, migrations=[]), "older farmbuild .it lacks"),
    "more pieces": (lambda parts: change_row(parts, on_hand=77), "pieces on hand came to|other values"),
    "another's row": (lambda parts: change_row(parts, material=10**9), "line 1 of rows/stock.Lot.jsonl: it names row"),
    "no number": (lambda parts: change_row(parts, material="1"), "names row"),
    "a column more": (lambda parts: change_row(parts, more=1), "columns are not those"),
    "text for a number": (
        lambda parts: change_row(parts, on_hand="many"),
        "line 1 of rows/stock.Lot.jsonl cannot be read",
    ),
    "a nested value": (lambda parts: change_row(parts, reference={"a": 1}), "cannot be read"),
    "an empty one": (lambda parts: change_row(parts, reference=None), "reference is empty"),
    "a long text": (lambda parts: change_row(parts, reference="x" * 500), "longer than"),
    "no JSON": (lambda parts: put(parts, LOTS, b"{\n"), "line 1 of rows/stock.Lot.jsonl cannot be read"),
    "deep JSON": (lambda parts: put(parts, LOTS, b"[" * 200_000 + b"\n"), "cannot be read|hide its size"),
    "out of its folder": (lambda parts: parts.update({"../up.jsonl": b""}), "which no export has"),
    "from the root": (lambda parts: parts.update({"/etc/passwd": b""}), "which no export has"),
    "of another system": (lambda parts: parts.update({"files\\..\\up": b""}), "which no export has"),
    "a bomb": (lambda parts: parts.update({"files/stock.Lot/1-data.bin": bytes(3 << 20)}), "packed to hide its size"),
    "other sums": (lambda parts: manifest(parts, figures={}), "came to nothing"),
    "other keys": (lambda parts: manifest(parts, keys={}), "does not hold one organisation"),
    "keys of nobody": (
        lambda parts: manifest(parts, keys=json.loads(parts["manifest.json"])["keys"] | {"stock.None": [1, 1]}),
        "which nobody knows",
    ),
}


@pytest.mark.parametrize("change", CHANGES)
def test_what_was_changed_is_refused(exported, change):
    how, words = CHANGES[change]
    refused(rewritten(exported, how), f"(?i){words}")


def test_a_file_that_ends_early_is_refused(exported):
    exported.write_bytes(exported.read_bytes()[:-400])
    refused(exported, "no export of farmbuild, or it is damaged")


def test_what_is_no_zip_is_refused(tmp_path):
    file = tmp_path / "season.zip"
    refused(file, "There is no file")
    file.write_text("hello")
    refused(file, "no export of farmbuild")


def test_a_line_is_read_no_further_than_it_may_be(exported, monkeypatch):
    monkeypatch.setattr("farmbuild.moving.archive.MAX_LINE", 40)
    with Package.opened(exported) as package, pytest.raises(CommandError, match="longer than any can be"):
        list(package.lines(LOTS))


def test_an_export_is_not_written_over(exported, tmp_path):
    with pytest.raises(CommandError, match="There is a file"):
        write_export(organisation=Organisation.objects.first(), to=exported)
    assert [path.name for path in tmp_path.iterdir()] == ["orchard.zip"]
