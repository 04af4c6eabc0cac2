"""Digits are grouped and cut by ``measure`` alone, so that what is written follows its reader's decimal sign."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator

from tests.where import ROOT

#: Files that format numbers otherwise, each with the reason; a path ending in / is all below it.
OTHERWISE = {
    # The formats themselves.
    "measure/": "",
    # Coordinates.
    "common/drawing.py": "",
    # What is stored, compared or read by programs.
    "planning/season/snapshot.py": "",
    "planning/buying/plan.py": "",
    "workbooks/writing.py": "",
    "workbooks/cells.py": "",
    "api/values.py": "",
    "moving/figures.py": "",
    "moving/sheets.py": "",
    "moving/values.py": "",
    # Said to programmers alone.
    "planning/cutting/plan.py": "",
}
#: A format of a number that marks thousands, or that writes decimals with a point.
FORMAT = re.compile(r"[<>^=+\- 0-9]*(?:[,_]|\.\{?\d?\}?[feg%]|[feg%]$)")
WRITERS = {"format_count", "format_decimal", "format_mm", "format_signed", "format_money", "format_length", "by_sign"}


def sources() -> Iterator[tuple[str, ast.Module]]:
    for path in sorted((ROOT / "farmbuild").rglob("*.py")):
        name = path.relative_to(ROOT / "farmbuild").as_posix()
        if "migrations/" not in name:
            yield name, ast.parse(path.read_text(encoding="utf-8"))


def formats_of(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Line and format of each number that a source writes by itself."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FormattedValue) and node.format_spec is not None:
            spec = "".join(part.value if isinstance(part, ast.Constant) else "{}" for part in node.format_spec.values)
            if FORMAT.match(spec):
                yield node.lineno, spec
        elif isinstance(node, ast.Constant) and isinstance(node.value, str):
            for spec in re.findall(r"%[-+ 0#]*\d*\.\d[feg]|\{\w*:([^{}]*,[^{}]*|\.\d[feg%])\}", node.value):
                yield node.lineno, spec
        elif isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("format", "intcomma"):
            yield node.lineno, node.func.id


def test_numbers_are_grouped_and_given_decimals_by_measure_alone():
    found = [
        f"{name}:{line} writes a number as {spec!r}: use format_count, format_decimal or format_mm"
        for name, tree in sources()
        if not any(name == other or (other[-1] == "/" and name.startswith(other)) for other in OTHERWISE)
        for line, spec in formats_of(tree)
    ]
    assert not found, "\n".join(found)


def test_no_template_formats_a_number_by_itself():
    wrong = re.compile(
        r"\|\s*(?:intcomma|floatformat|stringformat:[\"']\.?\d*[fge])|{%\s*load[^%]*\b(?:humanize|l10n)\b"
    )
    found = [
        f"{path.relative_to(ROOT)}: {match[0]}: use the filter number"
        for path in sorted((ROOT / "templates").rglob("*.*"))
        for match in wrong.finditer(path.read_text(encoding="utf-8"))
    ]
    assert not found, "\n".join(found)


def test_no_number_is_written_before_it_is_known_for_whom():
    """What stands in a module or a class is made once, for whoever asks first."""

    def early(node: ast.AST) -> Iterator[int]:
        for child in ast.iter_child_nodes(node):
            if isinstance(child, (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda)):
                continue
            if isinstance(child, ast.Call) and getattr(child.func, "id", "") in WRITERS:
                yield child.lineno
            yield from early(child)

    found = [f"{name}:{line}" for name, tree in sources() for line in early(tree)]
    assert not found, "\n".join(found)


def test_the_walk_finds_what_is_written_otherwise():
    source = 'f"{n:,}"; f"{n:,.2f}"; f"{n:.1f}"; f"{n:+.1%}"; "{:,}"; "%.2f"; f"{n:f}"; format(n, ",")'
    assert len(list(formats_of(ast.parse(source)))) == 8
    assert not list(formats_of(ast.parse('f"{day:%d %B}, {number:04d} {name:>20} {n}"; "https://a.b/{x}"')))
