"""Every number that is typed into a form is read by the decimal sign in force."""

from __future__ import annotations

import ast
import importlib
import pkgutil
import re
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path

import pytest
from django import forms

import farmbuild
from farmbuild.catalogue.fields import MoneyField
from farmbuild.common.fields import LengthFormField, LengthListFormField
from farmbuild.common.number_fields import DecimalFormField, WholeFormField
from farmbuild.measure import THIN_SPACE, NumberStyle, use_style

COMMA = NumberStyle(",", THIN_SPACE)
ROOT = Path(farmbuild.__file__).parent
#: Fields of Django that read numbers in their own way.
OF_DJANGO = {"IntegerField", "DecimalField", "FloatField", "DurationField"}
READ_BY_THE_SIGN = (DecimalFormField, WholeFormField, MoneyField, LengthFormField, LengthListFormField)


def form_classes() -> list[type[forms.BaseForm]]:
    for module in pkgutil.walk_packages(farmbuild.__path__, "farmbuild."):
        if ".migrations" not in module.name and not module.name.endswith((".wsgi", ".settings")):
            importlib.import_module(module.name)
    found, waiting = [], [forms.BaseForm]
    while waiting:
        waiting += (below := waiting.pop().__subclasses__())
        found += [form for form in below if form.__module__.startswith("farmbuild.") and form not in found]
    # Each process imports in an order of its own.
    return sorted(found, key=lambda form: (form.__module__, form.__qualname__))


FORMS = form_classes()


def number_fields(form: type[forms.BaseForm]) -> Iterator[tuple[str, forms.Field]]:
    for name, field in form.base_fields.items():
        numeric = isinstance(field, (forms.IntegerField, forms.FloatField, MoneyField))
        if numeric and not field.widget.is_hidden:
            yield name, field


def test_there_are_forms_with_numbers_to_look_at():
    assert len(FORMS) > 60
    assert sum(len(list(number_fields(form))) for form in FORMS) > 30


@pytest.mark.parametrize("form", FORMS, ids=lambda form: f"{form.__module__}.{form.__name__}")
def test_a_number_is_read_by_the_sign(form):
    for name, field in number_fields(form):
        assert isinstance(field, READ_BY_THE_SIGN), name
        whole = isinstance(field, WholeFormField)
        # What the page says that it understood is read by the same reader as the form.
        kind = "money" if isinstance(field, MoneyField) else "count" if whole else "decimal"
        assert field.widget.attrs["data-kind"] == kind, name
        read = field.clean if isinstance(field, MoneyField) else field.to_python
        with use_style(COMMA):
            for wrong in ["2.5", "1.5e3"] + (["2,5", "100,0", "1,200"] if whole else ["1.234"]):
                with pytest.raises(forms.ValidationError):
                    read(wrong)
            if not whole:
                assert read("2,5") == Decimal("2.5")
                assert field.prepare_value(Decimal("2.5")).startswith("2,5")
        with pytest.raises(forms.ValidationError):
            read("2,5")
        assert read("2") == 2


def test_no_field_of_django_takes_a_number_that_is_typed():
    """Fields that a form makes as it is opened are no part of its class, so the code is looked through."""
    wrong = []
    for path in ROOT.rglob("*.py"):
        if "migrations" in path.parts or path.name == "number_fields.py":
            continue
        tree = ast.parse(path.read_text())
        hidden = {id(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call) and _is_hidden(node)}
        wrong += [
            f"{path.relative_to(ROOT)}:{node.lineno} {node.attr}"
            for node in ast.walk(tree)
            if isinstance(node, ast.Attribute) and ast.unparse(node.value) == "forms"
            # A base class counts as well as a call.
            if node.attr in OF_DJANGO and id(node) not in hidden
        ]
    assert wrong == []


def _is_hidden(call: ast.Call) -> bool:
    return any(word.arg == "widget" and "HiddenInput" in ast.unparse(word.value) for word in call.keywords)


def test_no_box_of_a_browser_reads_numbers_by_a_locale_of_its_own():
    pages = [*ROOT.parent.joinpath("templates").rglob("*.html"), *ROOT.rglob("*.js")]
    assert pages
    for path in pages:
        assert not re.search(r"type ?= ?.number", path.read_text()), path
