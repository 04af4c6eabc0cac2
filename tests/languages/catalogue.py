"""What the catalogue of a language says, read from its text without any tool; and what the sources ask it for."""

from __future__ import annotations

import ast
import re
from dataclasses import dataclass
from pathlib import Path

from tests.where import ROOT

LOCALE = ROOT / "farmbuild/locale"
_STRING = re.compile(r'^(msgctxt|msgid|msgid_plural|msgstr(?:\[\d\])?)? ?(".*")$')


@dataclass(frozen=True)
class Message:
    context: str
    one: str
    many: str
    said: tuple[str, ...]
    fuzzy: bool

    @property
    def key(self) -> tuple[str, str]:
        return self.context, self.one


def messages_of(language: str) -> list[Message]:
    """All but the head."""
    text = (LOCALE / language / "LC_MESSAGES/django.po").read_text(encoding="utf-8")
    found = [_message(block) for block in re.split(r"\n{2,}", text.strip())]
    return [message for message in found if message.one]


def _message(block: str) -> Message:
    parts: dict[str, str] = {}
    name = ""
    for line in block.splitlines():
        if match := _STRING.match(line):
            name = match[1] or name
            parts[name] = parts.get(name, "") + ast.literal_eval(match[2])
    said = tuple(text for name, text in parts.items() if name.startswith("msgstr"))
    fuzzy = any(line.startswith("#,") and "fuzzy" in line for line in block.splitlines())
    return Message(parts.get("msgctxt", ""), parts.get("msgid", ""), parts.get("msgid_plural", ""), said, fuzzy)


#: Of calls that are read out of the sources: which of their texts is a context, which are one and many.
_CALLS = {
    "gettext": (None, 0, None),
    "gettext_lazy": (None, 0, None),
    "gettext_noop": (None, 0, None),
    "sentence": (None, 0, None),
    "ngettext": (None, 0, 1),
    "pgettext": (0, 1, None),
}


def asked_in_code(path: Path) -> set[tuple[str, str]]:
    """Context and text of everything that a module marks; a name given to such a call (``as _``) counts as it."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    names = {name: name for name in _CALLS}
    for node in ast.walk(tree):
        if isinstance(node, ast.ImportFrom):
            names |= {each.asname: each.name for each in node.names if each.asname and each.name in _CALLS}
    found = set()
    for node in ast.walk(tree):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in names):
            continue
        context, one, _ = _CALLS[names[node.func.id]]
        texts = [each.value if isinstance(each, ast.Constant) else None for each in node.args]
        if one < len(texts) and isinstance(texts[one], str):
            found.add((str(texts[context]) if context is not None else "", texts[one]))
    return found


def python_files() -> list[Path]:
    return [path for path in sorted((ROOT / "farmbuild").rglob("*.py")) if "migrations" not in path.parts]


def template_files() -> list[Path]:
    return sorted((ROOT / "templates").rglob("*.html"))
