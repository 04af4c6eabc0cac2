"""What a service changes of a row is what it stores of it: ``save(update_fields=…)`` names neither more nor less."""

from __future__ import annotations

import ast
from collections import defaultdict
from collections.abc import Iterator

import pytest

from tests.where import ROOT

#: Function and row: fields that it changes and another stores, or that are changed by a call.
OTHERWISE = {
    "farmbuild/access/people.py _store person",
    "farmbuild/coop/joint/services.py close_joint current",
    "farmbuild/orgs/accounts.py _void_password current",
    "farmbuild/quotes/sending/accepting.py _accept job",
}


def _stored(call: ast.Call) -> set[str] | None:
    """None where it stores all, or names them otherwise than one by one."""
    named = next((each.value for each in call.keywords if each.arg == "update_fields"), None)
    if not isinstance(named, ast.List | ast.Tuple) or not all(isinstance(each, ast.Constant) for each in named.elts):
        return None
    return {each.value for each in named.elts}


def _given(node: ast.AST) -> Iterator[ast.expr]:
    targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
    for target in targets:
        yield from target.elts if isinstance(target, ast.Tuple) else [target]


def rows_stored_otherwise(source: str) -> Iterator[tuple[str, set[str]]]:
    """Function and row, and the fields that are either changed or stored."""
    for function in ast.walk(ast.parse(source)):
        if not isinstance(function, ast.FunctionDef):
            continue
        stored, changed = defaultdict(list), defaultdict(set)
        for node in ast.walk(function):
            match node:
                case ast.Call(func=ast.Attribute(value=ast.Name(id=row), attr="save")):
                    stored[row].append(_stored(node))
                case ast.Assign() | ast.AugAssign():
                    for target in _given(node):
                        if isinstance(target, ast.Attribute) and isinstance(target.value, ast.Name):
                            changed[target.value.id].add(target.attr)
        for row, names in stored.items():
            if None not in names and (unlike := set().union(*names) ^ changed[row]):
                yield f"{function.name} {row}", unlike


def test_each_field_that_is_changed_is_stored():
    found, named = {}, 0
    for path in sorted((ROOT / "farmbuild").rglob("*.py")):
        if "migrations" not in path.parts:
            source = path.read_text(encoding="utf-8")
            named += source.count("update_fields=[")
            found |= {f"{path.relative_to(ROOT)} {name}": unlike for name, unlike in rows_stored_otherwise(source)}

    assert {name: unlike for name, unlike in found.items() if name not in OTHERWISE} == {}
    assert set(OTHERWISE) - set(found) == set(), "these need no word any more"
    assert named > 60


@pytest.mark.parametrize(
    ("lines", "unlike"),
    [
        ("row.note = 1; row.save(update_fields=['note'])", []),
        ("row.note = 1; row.save()", []),
        ("row.note, row.by = 1, 2; row.save(update_fields=['note'])", [{"by"}]),
        ("row.note += 1; row.save(update_fields=['note', 'by'])", [{"by"}]),
    ],
)
def test_of_lines_made_for_it(lines, unlike):
    assert [found for _, found in rows_stored_otherwise(f"def change(row):\n    {lines}")] == unlike
