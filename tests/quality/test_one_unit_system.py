"""Whoever builds in metres reads metres first, on every page; whoever builds in feet reads feet first."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from html import unescape
from importlib import import_module

import pytest
from django.utils.html import strip_tags

from farmbuild.common.forms import OrgFormMixin
from farmbuild.measure import ByUnits, in_units
from tests.walks import SIGN
from tests.where import ROOT

#: The words, and figures in feet or inches.
IMPERIAL = re.compile(
    r"\b(?:feet|foot|ft|inch|inches|ksi|psi|lbf?|mph|mils?|°F)\b"
    r"|\d ?[\"″](?!\w)|\d'(?!\w)"
    r"|\d in(?=[.,;:)]|$| (?:by|deep|wide|long|across|high|a side|rail|fence|pipe|EMT|bolt|screw)\b)"
)
METRIC = re.compile(r"\d ?(?:mm|cm|m|µm|metres?|km/h|kg|kN|N|MPa)\b")
#: What stands second: small beside the reader's own, behind a dot, or in brackets.
SECOND = (
    re.compile(r"<small>[^<]*</small>"),
    re.compile(r"(?<=[\w\"']) · \d[-\d,\u202f '\"/]*(?: mm)?(?=[ ,.;:)<]|$)"),
    re.compile(r"(?<=[\w²³⁴\"']) \([^()]*\d[^()]*\)"),
    # In drawings, one below the other.
    re.compile(r"(?<=\d mm) \d[\d '/]*[\"'](?!\w)|(?<=\d[\"']) \d[\d,\u202f]* mm\b"),
)
#: Words that stay, each with the reason.
STAYS = (
    # The choice of units names both, and the links that bring the other system's starters and materials.
    r"Feet and inches",
    r"(?:Starters|Add those) in feet and inches",
    # Of a hoop and of a ladder: no length.
    r"hoop f(?:oo|ee)t",
    r"2 feet a hoop to mark",
    r"hold the foot",
    r"Hatched foot",
    # How to type what is sold by another unit.
    r"6 mil or 150 µm",
    r"1 ksi is 6[.,]895 MPa",
)
#: The letter of an arrow, beside the numbers of houses: no newton.
NORTH = re.compile(r"<text\b[^>]*>N</text>")
#: How a figure was worked out is in millimetres and newtons for all, as in the handbooks.
WORKING = re.compile(r"<details.*?</details>", re.S)


def first_said(html: str, own: list[str], *, metric: bool) -> str:
    """The text of a page without what stands second, without names, and without what stays."""
    # A secret is drawn, and may end as a measure does.
    html = re.sub(r'<(script|style)\b.*?</\1>|<span class="secret">.*?</span>', "", html, flags=re.S)
    html = unescape(html if metric else WORKING.sub("", html))
    html = NORTH.sub("", SECOND[0].sub("", html))
    text = re.sub(r"[^\S\u202f]+", " ", strip_tags(re.sub(r"(?=<)", " ", html))).strip()
    for name in own:
        text = text.replace(name, "…")
    for pattern in SECOND[1:]:
        text = pattern.sub("", text)
    for words in STAYS:
        text = re.sub(words, "…", text)
    return text


@pytest.mark.django_db
@pytest.mark.parametrize(("units", "wrong"), [("metric", IMPERIAL), ("imperial", METRIC)], ids=["metric", "imperial"])
def test_no_page_says_the_other_system_first_or_alone(walked, units, wrong):
    walk, found = walked(units, SIGN[units]), []
    for path, answer in walk.linked.items():
        text = first_said(answer.page, walk.typed, metric=units == "metric")
        found += [f"{path}: …{text[max(0, m.start() - 50) : m.end() + 20]}…" for m in wrong.finditer(text)]
    assert len(walk.linked) > 100
    assert not found, "\n".join(found)


def all_forms(kind: type = OrgFormMixin) -> Iterator[type]:
    # Every page, and so every form, is loaded with the addresses.
    import_module("farmbuild.urls")
    for form in kind.__subclasses__():
        yield form
        yield from all_forms(form)


def test_no_help_or_error_of_a_form_gives_an_example_in_feet_alone():
    pairs, found = set(), []
    for form in set(all_forms()):
        for name, field in getattr(form, "base_fields", {}).items():
            for said in (field.help_text, field.label, *field.error_messages.values()):
                pairs |= {said} if isinstance(said, ByUnits) else set()
                words = str(in_units(said, "metric") or "")
                if IMPERIAL.search(words):
                    found.append(f"{form.__qualname__}.{name}: {words}")
    assert len(pairs) > 8
    assert not found, "\n".join(sorted(found))


#: Files in which sentences name feet for a reason.
NAMED_FILES = {
    # How lengths are read and written, in both systems.
    "measure/lengths.py",
    "measure/usual.py",
    # Published and shipped sizes carry the names that they are sold by.
    "mechanics/tubes.py",
    # Each names both systems, as choices or beside the other one.
    "orgs/models.py",
    "planning/house/own_rows.py",
    "planning/season/changes.py",
    "common/tables.py",
    # The workbook says what it reads by the units of its reader.
    "workbooks/",
    "stock/files.py",
    "stock/import_rows.py",
    # The invented season of the demo is an American one.
    "demo/",
}


def test_a_sentence_in_feet_has_its_metric_one_beside_it():
    """Strings of the application that name a length in feet or inches stand in ``ByUnits``, or where both are."""
    found = []
    for path in sorted((ROOT / "farmbuild").rglob("*.py")):
        name = path.relative_to(ROOT / "farmbuild").as_posix()
        if "migrations/" in name or any(name.startswith(stem) for stem in NAMED_FILES):
            continue
        found += [f"{name}:{line}: {text}" for line, text in _alone(ast.parse(path.read_text(encoding="utf-8")))]
    assert not found, "\n".join(found)


def _alone(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Sentences with an example in feet or inches that is nobody's pair."""
    if isinstance(tree, ast.Call) and getattr(tree.func, "id", "") == "ByUnits":
        return
    if isinstance(tree, (ast.Module, ast.ClassDef, ast.FunctionDef)) and ast.get_docstring(tree) is not None:
        tree.body = tree.body[1:]
    if isinstance(tree, ast.IfExp):
        # 10' if imperial else 3 m.
        return
    if isinstance(tree, ast.Constant) and isinstance(tree.value, str):
        if re.search(r"(?:example|like|practice)\b.*?(?:\d'|\d\"|\d (?:in|ft)\b(?! the))", tree.value):
            yield tree.lineno, tree.value
        return
    for child in ast.iter_child_nodes(tree):
        yield from _alone(child)
