"""A migration says today what it said when it was written: it imports no code that goes on changing."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator

import pytest
from django.db import connection

from farmbuild.common import fields
from tests.where import ROOT

MIGRATIONS = sorted((ROOT / "farmbuild").rglob("migrations/*.py"))
#: All of ours that a migration may name: classes of fields, each with the column that it makes for good. A field that
#: needs another column gets a class of its own.
MODULE = "farmbuild.common.fields"
FIELDS = {
    f"{MODULE}.LengthField": {"sqlite": "decimal", "postgresql": "numeric(18, 6)"},
    f"{MODULE}.LengthListField": {"sqlite": "text", "postgresql": "jsonb"},
    f"{MODULE}.ThousandthsField": {"sqlite": "bigint", "postgresql": "bigint"},
}
#: Part of Python, and a way around this rule.
NEVER = {"importlib", "runpy", "pkgutil"}


def dotted(node: ast.expr) -> str:
    if isinstance(node, ast.Attribute):
        return f"{dotted(node.value)}.{node.attr}"
    return node.id if isinstance(node, ast.Name) else "…"


def imported(tree: ast.AST) -> Iterator[str]:
    """Every name that is imported, a relative one with its dots; of ``import a.b`` what is used of it."""
    ours = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            yield from (f"{'.' * node.level}{node.module or ''}.{each.name}" for each in node.names)
        elif isinstance(node, ast.Import):
            for each in node.names:
                # Under another name its uses would not be seen, so it is judged as a whole.
                ours |= {each.name} if each.name.startswith("farmbuild.") and not each.asname else set()
                yield from () if each.name in ours else (each.name,)
        elif isinstance(node, ast.Call) and dotted(node.func) in ("__import__", "exec", "eval"):
            yield dotted(node.func)
    names = {dotted(node) for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
    for module in ours:
        yield from (
            name for name in names if name.startswith(f"{module}.") and name.count(".") == module.count(".") + 1
        )


def strangers(source: str) -> set[str]:
    def allowed(name: str) -> bool:
        top = name.split(".")[0]
        return name in FIELDS or top == "django" or (top in sys.stdlib_module_names and top not in NEVER)

    return {name for name in imported(ast.parse(source)) if not allowed(name)}


def test_migrations_import_django_python_and_classes_of_fields():
    assert len(MIGRATIONS) > 20
    found = {f"{path.relative_to(ROOT)}": strangers(path.read_text(encoding="utf-8")) for path in MIGRATIONS}
    assert {path: names for path, names in found.items() if names} == {}


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ("from farmbuild.crew.models import Task", {"farmbuild.crew.models.Task"}),
        ("import farmbuild.crew.models\nx = farmbuild.crew.models.Task", {"farmbuild.crew.models.Task"}),
        (f"import {MODULE} as f\nx = f.LengthInput", {MODULE}),
        (f"import {MODULE}\nx = {MODULE}.LengthField()", set()),
        (f"import {MODULE}\nx = {MODULE}.LengthInput()", {f"{MODULE}.LengthInput"}),
        ("def f():\n    from . import m", {"..m"}),
        ("from importlib import import_module", {"importlib.import_module"}),
        ("m = __import__('farmbuild')", {"__import__"}),
        ("from django.db import models\nimport secrets", set()),
    ],
)
def test_what_the_rule_finds(source, found):
    assert strangers(source) == found


@pytest.mark.django_db
@pytest.mark.parametrize("name", FIELDS)
def test_fields_that_migrations_name_keep_their_columns(name):
    field = getattr(fields, name.rpartition(".")[2])()
    assert field.db_type(connection) == FIELDS[name][connection.vendor]
    assert field.db_parameters(connection)["check"] in (None, '(JSON_VALID("None") OR "None" IS NULL)')
