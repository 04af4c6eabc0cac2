"""What somebody puts behind the question mark of an address is answered in words, never by a server error."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from django.test import Client

from farmbuild.common.tables import ROWS_ASKED
from tests.size import LONG
from tests.upgrades.addresses import addresses
from tests.walks import load

APP = Path(__file__).parents[2] / "farmbuild"
#: Numbers that no column holds, a character that no text of PostgreSQL holds, days there are none of, and no words.
ODD = (
    "9" * 30,
    "9" * 4000,
    "-" + "9" * 4000,
    "many words",
    "-1",
    "\x00",
    "0001-01-01",
    "0",
    "--",
    "a\u202e<b>,;\r\n=1",
    "٣",
    "1e400",
    "NaN",
)
#: Names that django-tables2 reads, and those of filters.
NAMES = {"page", "per_page", "sort", "lot", "material", "place", "q", "search"}


def names() -> list[str]:
    """Every name that a view reads from the address."""
    found, trees = set(NAMES), [ast.parse(file.read_text(encoding="utf-8")) for file in APP.rglob("*.py")]
    forms = set()
    for tree in trees:
        for node in ast.walk(tree):
            match node:
                # A form that is filled from the address.
                case ast.Call(func=ast.Name(form) | ast.Attribute(attr=form), args=[sent, *_]) if any(
                    isinstance(part, ast.Attribute) and part.attr == "GET" for part in ast.walk(sent)
                ):
                    forms.add(form)
            match node:
                case (
                    ast.Call(
                        func=ast.Attribute(attr="get", value=ast.Attribute(attr="GET")), args=[ast.Constant(name), *_]
                    )
                    | ast.Subscript(value=ast.Attribute(attr="GET"), slice=ast.Constant(name))
                ):
                    found.add(name)
    for tree in trees:
        for node in ast.walk(tree):
            if isinstance(node, ast.ClassDef) and node.name in forms:
                found |= {to.id for line in node.body if isinstance(line, ast.Assign) for to in line.targets}
    assert {"offcuts", "site"} <= found
    return sorted(found)


@pytest.mark.django_db
def test_odd_queries_are_answered():
    demo = load()
    client = Client(raise_request_exception=False)
    client.force_login(demo.user)
    read = names()
    wrong = {}
    urls = [found[0] for _, found in addresses() if found]
    # Every name has every value somewhere; a long run asks every page for each.
    for at, url in enumerate(urls):
        turns = range(len(ODD)) if LONG else [at]
        for turn in turns:
            answer = client.get(url, {name: ODD[(turn + place) % len(ODD)] for place, name in enumerate(read)})
            if answer.status_code >= 500:
                wrong[url] = repr(answer.exc_info[1])
    assert not wrong


@pytest.mark.parametrize("address", ["/houses/?site=\x00", "/l/L\x00/", "/crew/week/\x00/"])
def test_an_address_with_a_nul_is_no_address(signed_in, address):
    answer = signed_in.get(address.replace("\x00", "%00"))
    assert answer.status_code == 404
    assert "There is no such page" in answer.content.decode()


def test_a_page_has_no_more_rows_than_are_bounded(db, client, organisation, user):
    from tests.factories import SupplierFactory

    SupplierFactory.create_batch(max(ROWS_ASKED) + 5, organisation=organisation)
    client.force_login(user)
    for asked, rows in {"200000": 25, "101": 25, "0": 25, "-1": 25, "many": 25, "50": 50, "100": 100}.items():
        answer = client.get("/suppliers/", {"per_page": asked})
        assert len(answer.context["table"].page.object_list) == rows, asked


def test_every_table_comes_by_the_one_wrapper():
    """What django-tables2 does with an address by itself has no bounds."""
    around = {
        f"{file.relative_to(APP)}: {name}"
        for file in APP.rglob("*.py")
        if file.relative_to(APP).as_posix() not in ("common/paging.py", "common/tables.py")
        for name in unbounded(ast.parse(file.read_text(encoding="utf-8")))
    }
    assert not around
    assert unbounded(ast.parse("from django_tables2 import RequestConfig")) == ["RequestConfig"]
    assert unbounded(ast.parse("from django_tables2.views import SingleTableMixin")) == ["SingleTableMixin"]
    assert unbounded(ast.parse("table.paginate(per_page=9)")) == ["paginate"]


def unbounded(tree: ast.AST) -> list[str]:
    """Ways to a page of a table that are not ours."""
    found = []
    for node in ast.walk(tree):
        match node:
            case ast.ImportFrom(module=str(module), names=names) if module.startswith("django_tables2"):
                found += [name.name for name in names if name.name == "RequestConfig" or "View" in name.name]
                found += [name.name for name in names if name.name.endswith("Mixin")]
            case ast.Attribute(attr="RequestConfig" | "paginate" as name):
                found.append(name)
    return found


def test_line_ends_in_a_name_become_spaces(db, client, organisation, user):
    """RFC 5545 ends a property at a line end, and a label has one line for a name."""
    from farmbuild.catalogue.models import Supplier

    client.force_login(user)
    form = client.get("/suppliers/new/").context["form"]
    typed = {name: form[name].value() or "" for name in form.fields}
    client.post("/suppliers/new/", typed | {"name": "Ford\r\nand\u2028Sons", "code": "ford"})
    assert [row.name for row in Supplier.objects.all()] == ["Ford and Sons"]
