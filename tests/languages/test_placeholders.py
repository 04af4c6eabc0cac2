"""Every value that a sentence asks for is given to it by name, so that no page breaks where the sentence is said."""

from __future__ import annotations

import ast
import re

from tests.where import ROOT

_PLACE = re.compile(r"%\((\w+)\)")
#: What puts a text into a language, or keeps it to be put into one; of a plural the second text is asked too.
_SAYS = frozenset({"gettext", "gettext_lazy", "ngettext", "ngettext_lazy", "pgettext", "pgettext_lazy", "_"})


def texts_of(call: ast.expr) -> list[str]:
    if not isinstance(call, ast.Call):
        return []
    name = call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")
    if name not in _SAYS:
        return []
    given = call.args[1:] if name.startswith("p") else call.args[: 2 if name.startswith("n") else 1]
    return [each.value for each in given if isinstance(each, ast.Constant) and isinstance(each.value, str)]


def without_value(source: str) -> list[str]:
    """``line: names`` that a text asks for and the brackets after it do not give."""
    found = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Mod) and isinstance(node.right, ast.Dict):
            keys = [key.value if isinstance(key, ast.Constant) else None for key in node.right.keys]
            texts = texts_of(node.left)
        elif isinstance(node, ast.Call) and getattr(node.func, "id", "") == "sentence" and node.args:
            keys = [word.arg for word in node.keywords]
            texts = [each.value for each in node.args[:1] if isinstance(each, ast.Constant)]
        else:
            continue
        # What is unpacked into the brackets may have any name.
        if None in keys:
            continue
        if missing := {name for text in texts for name in _PLACE.findall(text)} - set(keys):
            found.append(f"{node.lineno}: {sorted(missing)}")
    return found


def test_a_sentence_has_every_value_that_it_asks_for():
    found = {
        f"{path.relative_to(ROOT)}:{line}"
        for path in sorted((ROOT / "farmbuild").rglob("*.py"))
        for line in without_value(path.read_text(encoding="utf-8"))
    }
    assert found == set()


def test_what_is_missing_is_found():
    assert without_value('gettext("%(a)s, %(b)s") % {"a": 1, "c": 2}') == ["1: ['b']"]
    assert without_value('sentence("%(a)s", b=1)') == ["1: ['a']"]
    assert not without_value('ngettext("%(a)s", "%(a)s of %(b)s", n) % {"a": 1, "b": 2}')
    assert not without_value('gettext("%(a)s") % {**values}')
