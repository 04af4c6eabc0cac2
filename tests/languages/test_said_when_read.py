"""What is said as a module is read is said once, in the language of whoever happened to be there."""

from __future__ import annotations

import ast
from collections.abc import Iterator

from farmbuild.common import speaking
from tests.languages.catalogue import python_files
from tests.where import ROOT

#: What puts a text into the language of the moment; what ends in ``_lazy`` waits until somebody reads it.
AT_ONCE = {"gettext", "ngettext", "pgettext", "npgettext"} | {name for name in vars(speaking) if name[:4] == "said"}


def said_when_read(code: str) -> list[int]:
    """Lines of calls that run when the module does: outside of functions, in bodies of classes, as defaults, as
    decorators."""
    tree = ast.parse(code)
    names = set(AT_ONCE)
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            names |= {each.asname for each in node.names if each.asname and each.name in AT_ONCE}
    return sorted(node.lineno for node in _run_at_once(tree) if _called(node) in names)


def _run_at_once(node: ast.AST) -> Iterator[ast.AST]:
    yield node
    if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda):
        given = [*node.args.defaults, *filter(None, node.args.kw_defaults), *getattr(node, "decorator_list", ())]
        parts: list[ast.AST] = [*given]
    else:
        parts = [*ast.iter_child_nodes(node)]
    for part in parts:
        yield from _run_at_once(part)


def _called(node: ast.AST) -> str:
    if not isinstance(node, ast.Call):
        return ""
    return getattr(node.func, "id", "") or getattr(node.func, "attr", "")


def test_nothing_is_said_before_there_is_a_reader():
    found = {str(path.relative_to(ROOT)): said_when_read(path.read_text(encoding="utf-8")) for path in python_files()}
    assert len(found) > 500
    assert {path: lines for path, lines in found.items() if lines} == {}


def test_what_is_said_too_early_would_be_found():
    code = """
from django.utils.translation import gettext as _, gettext_lazy, gettext_noop
from django.utils import translation
from farmbuild.common.speaking import said_noun
KEPT = [_("one")]
WAITS = gettext_lazy("two"), gettext_noop("three")
class Form:
    label = translation.gettext("four")
    def save(self, help=_("five"), *, noun=said_noun(1, "six")):
        return _("seven")
    later = lambda self, of=_("eight"): _("nine")
@shown(_("ten"))
def page():
    return _("eleven")
"""
    assert said_when_read(code) == [5, 8, 9, 9, 11, 12]
