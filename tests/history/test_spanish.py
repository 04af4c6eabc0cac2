"""What is kept in English is read in Spanish: deeds, what changed, and what a column offers; never what was typed."""

from __future__ import annotations

from django.urls import reverse
from django.utils import timezone, translation
from django.utils.translation import gettext

from farmbuild.history.kept import KEPT
from farmbuild.history.models import Entry
from farmbuild.history.recording import recorded
from farmbuild.history.words import DEEDS, said_choice, said_deed, said_name
from farmbuild.orgs.models import Language
from farmbuild.sites.models import House
from tests.factories import HouseFactory

#: Said alike in both, or never read as words.
ALIKE = {"Español", "km/h", "mph", "material", "no", "plan", "total"}


def _deeds():
    for kept in KEPT.values():
        yield from [kept.added] if isinstance(kept.added, str) else []
        for words in kept.deeds.values():
            yield from words if isinstance(words, tuple) else words.values()


def test_all_that_the_rooms_call_things_has_spanish():
    words = {kept.title for kept in KEPT.values()}
    for kept in KEPT.values():
        for name in (*kept.names, *kept.many):
            words |= {kept.label(name), *(str(word) for _, word in kept.field(name).flatchoices or ())}
    with translation.override("es"):
        assert {word for word in words if gettext(word) == word} - ALIKE == set()
        assert {deed for deed in ("changed", "removed", *_deeds()) if deed not in DEEDS} == set()


def test_deeds_of_one_act_are_said_each():
    assert said_deed("archived and added and changed") == "archived and added and changed"
    with translation.override("es"):
        assert said_deed("archived and added and changed") == "archivó y agregó y cambió"
        assert said_deed("a deed of before and added") == "a deed of before y agregó"


def test_only_what_a_column_offers_is_said():
    with translation.override("es"):
        assert (said_name("state"), said_name("Saturday")) == ("estado", "Saturday")
        assert said_choice("batch", "state", "Done") != "Done"
        assert said_choice("batch", "note", "Done") == "Done"


def test_who_reads_spanish_reads_so_and_the_file_stays_as_it_is_kept(signed_in, organisation, user):
    house = HouseFactory(site__organisation=organisation, name="North 2")
    with recorded(user=user, organisation=organisation):
        House.objects.filter(pk=house.pk).update(archived_at=timezone.now(), name="Done")
    user.language = Language.SPANISH
    user.save()
    entry = Entry.objects.get()
    pages = [reverse("history:changes"), reverse("history:act", args=[entry.act]), house.get_absolute_url()]
    said = [" ".join(signed_in.get(page).content.decode().split()) for page in pages]
    assert all("Nombre: de North 2 a Done" in page and "archivó" in page for page in said)
    assert f"<h1>{user.display_name} archivó: invernadero Done</h1>" in said[1]
    kept = signed_in.get(reverse("history:csv")).content.decode()
    assert "archived" in kept and "archivó" not in kept and "house Done" in kept
