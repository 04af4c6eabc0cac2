"""Rows of one organisation, named by another in every choice of a form; test_pages.py has them named in addresses.

Forms come from the pages of the demo as they are shown, so that new ones are tried as they come; a hidden box that
nobody has said anything of fails.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django import forms
from django.core.exceptions import ValidationError
from django.db import DatabaseError, transaction
from django.db.models import Model
from django.test import Client
from django.utils import timezone

from farmbuild.api.models import Token
from farmbuild.costs.models import Equipment
from farmbuild.orgs.acts import Role
from farmbuild.orgs.gates import FREE
from farmbuild.orgs.models import Membership, Organisation, User
from farmbuild.quotes.models import Customer, Job
from tests.factories import MembershipFactory, OrganisationFactory
from tests.upgrades.addresses import addresses
from tests.walks import load

pytestmark = pytest.mark.django_db

#: Files and answers to scripts, on which no form stands.
_FILES = re.compile(r"(xlsx|csv|pdf|dxf|zip|file|workbook|template|spreadsheet|progress|feed|photo-\w+|calendar)$")
#: Boxes that are not seen, numbers blanked: what each is. The rows that some name are looked up among one's own.
HIDDEN = {
    **dict.fromkeys(("csrfmiddlewaretoken", "once", "key"), "of this page, and used once"),
    **dict.fromkeys(("opened", "h#-opened", "seen", "stand", "was_#", "agreed", "drawn"), "what the page showed"),
    **dict.fromkeys(("limit", "quantity", "unit"), "an amount or a unit"),
    **dict.fromkeys(("rows-#", "prices-#"), "how many rows a form has"),
    **dict.fromkeys(("person", "site", "label"), "a short name or reference, of which each organisation has its own"),
    **dict.fromkeys(("plan", "record", "wish"), "a number, which finds rows of the organisation alone"),
    "back": "a page to go back to",
}
_HIDDEN = re.compile(r'<input[^>]*\btype="hidden"[^>]*>')
_NAME = re.compile(r'\bname="([^"]*)"')


def forms_of(answer: Any) -> list[forms.BaseForm]:
    """Every form that a page was made with, those of form sets too."""
    found: dict[int, forms.BaseForm] = {}
    for context in answer.context or ():
        for layer in getattr(context, "dicts", [context]):
            for value in layer.values():
                several = value if isinstance(value, forms.BaseFormSet | list | tuple) else ()
                found |= {id(one): one for one in (value, *several) if isinstance(one, forms.BaseForm)}
    return list(found.values())


def choices_of(answer: Any) -> Iterator[tuple[str, forms.ModelChoiceField]]:
    for form in forms_of(answer):
        for name, field in form.fields.items():
            if isinstance(field, forms.ModelChoiceField):
                yield f"{type(form).__name__}.{name}", field


class Foreign:
    """Of each table a row of another organisation, with the name and number of one of ours."""

    def __init__(self, own: Organisation, other: Membership) -> None:
        self.own, self.other = own, other
        self.rows: dict[type[Model], Any] = {User: other.user}
        # Of what the season before its work has none.
        _made(own)
        self.rows |= {type(row): row for row in _made(other.organisation)}

    def of(self, model: type[Model]) -> Any:
        if model not in self.rows:
            self.rows[model] = self._like_ours(model)
        return self.rows[model]

    def _like_ours(self, model: type[Model]) -> Any:
        for row in model._base_manager.filter(organisation=self.own).order_by("-pk")[:20]:
            row.pk, row.organisation = None, self.other.organisation
            for name in ("on_hand", "reserved", "value", "basis_value", "basis_pieces"):
                if hasattr(row, name):
                    setattr(row, name, 0)
            if hasattr(row, "sent_on"):
                row.plan = None
            try:
                with transaction.atomic():
                    row.save_base(raw=True, force_insert=True)
            except DatabaseError:
                continue
            return row
        raise AssertionError(f"{model.__name__}: no row of it could be made for another organisation.")


def _made(organisation: Organisation) -> list[Model]:
    customer = Customer.objects.create(organisation=organisation, name="Fern Hill", slug="fern-hill")
    job = Job.objects.create(organisation=organisation, customer=customer, number=7, name="Two houses")
    equipment = Equipment.objects.create(organisation=organisation, name="Auger")
    token = Token.objects.create(
        organisation=organisation,
        user=Membership.objects.filter(organisation=organisation, role=Role.OWNER).first().user,
        name="Till",
        digest=f"{organisation.pk:064}",
        scopes=["read"],
        ends_at=timezone.now() + timedelta(days=30),
    )
    return [customer, job, equipment, token]


def chosen(field: forms.ModelChoiceField, row: Any) -> list[Any]:
    """What the field makes of the row; none where it is refused."""
    value = getattr(row, field.to_field_name or "pk")
    try:
        found = field.clean([value] if isinstance(field, forms.ModelMultipleChoiceField) else value)
    except ValidationError:
        return []
    return [found] if isinstance(found, Model) else list(found)


def test_nothing_of_another_organisation_is_taken():
    demo = load()
    owner = Membership.objects.filter(organisation=demo.organisation, role=Role.OWNER).first().user
    other = MembershipFactory(organisation=OrganisationFactory(name="Another Farm"), role=Role.OWNER)
    ours = Client()
    ours.force_login(owner)
    every = {name: paths[0] for name, paths in addresses() if paths and name not in FREE}
    foreign, tried, taken, unknown, hidden = Foreign(demo.organisation, other), {}, set(), set(), set()
    for name, path in every.items():
        if _FILES.search(name):
            continue
        answer = ours.get(path)
        if answer.status_code != 200 or not answer.headers["content-type"].startswith("text/html"):
            continue
        boxes = {_NAME.search(box)[1] for box in _HIDDEN.findall(answer.content.decode()) if _NAME.search(box)}
        hidden |= {re.sub(r"\d+|(?<=-)[A-Z_]+$", "#", box) for box in boxes}
        for box, field in choices_of(answer):
            if box in tried:
                continue
            row = foreign.of(field.queryset.model)
            # What it offers may be given to it as rows, whatever its query would find.
            offered = field.rows if hasattr(field, "rows") else field.queryset
            if row in chosen(field, row) or row in offered:
                unknown.add(box)
            mine = next(iter(offered[:1]), None)
            tried[box] = mine
            if mine is not None and chosen(field, mine) == [mine]:
                taken.add(box)
    assert unknown == set(), "these take a row of another organisation"
    # Else a field that takes nothing at all would pass.
    assert len(tried) > 80 and len(taken) > 60
    assert hidden - HIDDEN.keys() == set(), "say in HIDDEN what these are"
