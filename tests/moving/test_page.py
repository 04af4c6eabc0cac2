"""An owner asks for everything as one file, downloads it for two days, and nobody else does."""

from __future__ import annotations

import io
import zipfile
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from farmbuild.common.long_work import State
from farmbuild.moving import services
from farmbuild.moving.models import Export, ExportPart
from farmbuild.orgs.acts import NotAllowed
from farmbuild.orgs.models import Membership
from tests.factories import LotFactory, MembershipFactory, OrganisationFactory, UserFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def owner(client):
    organisation = OrganisationFactory(name="Invented Orchard", slug="orchard")
    user = MembershipFactory(organisation=organisation, user=UserFactory(first_name="Ada")).user
    LotFactory(material__organisation=organisation)
    client.force_login(user)
    return Membership.objects.get(user=user)


def press(client, callbacks):
    with callbacks(execute=True):
        client.post(reverse("moving:export"))
    return client.get(reverse("moving:export"))


def test_the_file_is_written_and_downloaded(client, owner, django_capture_on_commit_callbacks):
    assert "Get everything that Invented Orchard owns here as one file." in text_of(
        client.get(reverse("moving:export"))
    )
    answer = text_of(press(client, django_capture_on_commit_callbacks))
    assert "The file is ready until" in answer and "Download the file" in answer and "Ada asked for it" in answer
    got = client.get(reverse("moving:export-download"))
    data = b"".join(got.streaming_content)
    assert got.headers["Content-Disposition"].startswith('attachment; filename="orchard-')
    assert int(got.headers["Content-Length"]) == len(data) and got.headers["Cache-Control"] == "no-store"
    assert {"manifest.json", "rows/stock.Lot.jsonl"} <= set(zipfile.ZipFile(io.BytesIO(data)).namelist())
    assert client.get(reverse("moving:export-progress")).json()["state"] == "ready"


def test_pressed_again_there_is_one(client, owner, django_capture_on_commit_callbacks):
    first = services.ask_for_export(organisation=owner.organisation, user=owner.user)
    assert services.ask_for_export(organisation=owner.organisation, user=owner.user) == first
    assert "is being written" in text_of(client.get(reverse("moving:export")))
    services.work_on_export(first.pk)
    # What is ready gives way to a new one.
    press(client, django_capture_on_commit_callbacks)
    assert Export.objects.get().pk != first.pk
    assert not ExportPart.objects.filter(export=first.pk).exists()
    services.work_on_export(Export.objects.get().pk)
    assert Export.objects.get().state == State.READY


def test_after_two_days_it_is_gone(client, owner, django_capture_on_commit_callbacks):
    press(client, django_capture_on_commit_callbacks)
    Export.objects.update(ends_at=timezone.now() - timedelta(seconds=1))
    assert "Get everything" in text_of(client.get(reverse("moving:export")))
    assert "its two days are over" in text_of(client.get(reverse("moving:export-download"), follow=True))
    services.drop_old()
    assert not Export.objects.exists() and not ExportPart.objects.exists()


def test_a_large_file_comes_in_pieces(client, owner, monkeypatch, django_capture_on_commit_callbacks):
    monkeypatch.setattr(services, "_PIECE", 1000)
    press(client, django_capture_on_commit_callbacks)
    assert ExportPart.objects.count() > 5
    got = client.get(reverse("moving:export-download"))
    assert zipfile.ZipFile(io.BytesIO(b"".join(got.streaming_content))).testzip() is None


def test_what_went_wrong_is_said(client, owner, monkeypatch, django_capture_on_commit_callbacks):
    monkeypatch.setattr("farmbuild.moving.going.why_not_to_serve", lambda: "The database is of an older version.")
    answer = text_of(press(client, django_capture_on_commit_callbacks))
    assert "The file could not be written." in answer and "of an older version" in answer


@pytest.mark.parametrize("role", ["planner", "yard", "crew", "looks"])
def test_owners_alone(client, owner, role):
    MembershipFactory(organisation=owner.organisation)
    Membership.objects.filter(pk=owner.pk).update(role=role)
    for name in ("export", "export-progress", "export-download"):
        assert client.get(reverse(f"moving:{name}")).status_code == 403
    with pytest.raises(NotAllowed):
        services.ask_for_export(organisation=owner.organisation, user=owner.user)


def test_an_owner_elsewhere_gets_nothing_of_it(client, owner, django_capture_on_commit_callbacks):
    press(client, django_capture_on_commit_callbacks)
    other = MembershipFactory(organisation=OrganisationFactory(slug="other")).user
    client.force_login(other)
    assert client.get(reverse("moving:export-download")).status_code == 302
