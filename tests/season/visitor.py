"""Somebody who uses the site as it stands on the screen: reads tables, fills in forms, presses buttons."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any

from django.test import Client

#: Elements without an end.
_VOID = frozenset(
    {"input", "br", "hr", "img", "meta", "link", "source", "wbr", "path", "line", "rect", "circle", "use"}
)


class Element:
    def __init__(self, name: str, attributes: dict[str, str | None], parent: Element | None) -> None:
        self.name, self.attributes, self.parent = name, attributes, parent
        self.children: list[Element | str] = []

    def get(self, name: str, default: str = "") -> str:
        found = self.attributes.get(name, default)
        return "" if found is None else found

    def all(self, *names: str) -> Iterator[Element]:
        for child in self.children:
            if isinstance(child, Element):
                if child.name in names:
                    yield child
                yield from child.all(*names)

    @property
    def text(self) -> str:
        parts = (child if isinstance(child, str) else child.text for child in self.children)
        return " ".join(" ".join(parts).split())


class Page(HTMLParser):
    """What a page shows."""

    def __init__(self, path: str, html: str) -> None:
        super().__init__()
        self.path, self.html = path, html
        self.root = self._at = Element("page", {}, None)
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = Element(tag, dict(attrs), self._at)
        self._at.children.append(element)
        if tag not in _VOID:
            self._at = element

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._at.children.append(Element(tag, dict(attrs), self._at))

    def handle_endtag(self, tag: str) -> None:
        at = self._at
        while at.name != tag and at.parent is not None:
            at = at.parent
        if at.parent is not None:
            self._at = at.parent

    def handle_data(self, data: str) -> None:
        self._at.children.append(data)

    @property
    def text(self) -> str:
        return next(self.root.all("main")).text

    @property
    def answer(self) -> str:
        return next((p.text for p in self.root.all("p") if p.get("class") == "answer"), "")

    @property
    def errors(self) -> list[str]:
        shown = [
            e.text for e in self.root.all("div", "ul") if set(e.get("class").split()) & {"error-summary", "errors"}
        ]
        return list(dict.fromkeys(shown))

    def rows(self, *headings: str) -> list[dict[str, str]]:
        """Rows of the first table that has all these headings, by heading; ``link`` is where the row leads."""
        for table in self.root.all("table"):
            body = [
                row for part in table.all("tbody") for row in part.all("tr") if "none" not in row.get("class").split()
            ]
            heads = [_heading(th) for th in table.all("th") if th.get("scope") == "col"]
            if all(heading in " | ".join(heads) for heading in headings):
                return [_row(row, heads) for row in body]
        return []

    def links(self, words: str) -> list[str]:
        return [a.get("href") for a in self.root.all("a") if words in a.text]

    def form(self, button: str) -> Element:
        """The form with a button that says ``button``."""
        for form in self.root.all("form"):
            if any(button in one.text for one in form.all("button")):
                return form
        said = [one.text for one in self.root.all("button")]
        raise AssertionError(f"{self.path} has no button {button!r}; it has {said}")


def _heading(th: Element) -> str:
    """As "Value (USD)"."""
    name = th.text.rstrip("↑↓ ")
    unit = next((span.text for span in th.all("span") if span.get("class") == "unit"), "")
    return f"{name.removesuffix(unit).strip('↑↓ ')} ({unit})" if unit else name


def _row(row: Element, headings: list[str]) -> dict[str, str]:
    cells = {heading.partition(",")[0]: cell.text for heading, cell in zip(headings, row.all("th", "td"), strict=False)}
    return cells | {"link": next((a.get("href") for a in row.all("a")), "")}


def _filled(form: Element) -> dict[str, Any]:
    """What the form would send as it stands."""
    data: dict[str, list[str]] = {}
    for field in form.all("input", "select", "textarea"):
        if not (name := field.get("name")) or "disabled" in field.attributes:
            continue
        kind = field.get("type", "text")
        if field.name == "select":
            options = list(field.all("option"))
            chosen = [one for one in options if "selected" in one.attributes]
            if not chosen and "multiple" not in field.attributes:
                chosen = options[:1]
            data.setdefault(name, []).extend(one.get("value") for one in chosen)
        elif field.name == "textarea":
            data.setdefault(name, []).append(field.text)
        elif kind in ("checkbox", "radio"):
            if "checked" in field.attributes:
                data.setdefault(name, []).append(field.get("value", "on"))
        elif kind != "submit":
            data.setdefault(name, []).append(field.get("value"))
    return {name: values if len(values) != 1 else values[0] for name, values in data.items()}


class Visitor:
    """Opens pages and sends their forms, as a browser does, and stands on the page where that led."""

    def __init__(self, client: Client) -> None:
        self.client = client
        self.page = Page("", "<main></main>")

    def open(self, path: str) -> Page:
        answer = self.client.get(path, follow=True)
        assert answer.status_code == 200, (path, answer.status_code)
        at = answer.redirect_chain[-1][0] if answer.redirect_chain else path
        self.page = Page(at, answer.content.decode())
        return self.page

    def press(self, button: str, **typed: Any) -> Page:
        """Fill in what is given (labels and values of a select or a box by its field's name), and press."""
        form = self.page.form(button)
        data = _filled(form)
        known = {field.get("name") for field in form.all("input", "select", "textarea", "button")}
        for name, value in typed.items():
            assert name in known, f"{self.page.path} has no field {name!r}; it has {sorted(known)}"
            data[name] = _option(form, name, value)
        pressed = next(one for one in form.all("button") if button in one.text)
        if pressed.get("name"):
            data[pressed.get("name")] = pressed.get("value")
        target = form.get("action") or self.page.path
        if form.get("method").lower() != "post":
            answer = self.client.get(target.partition("?")[0], data, follow=True)
        else:
            answer = self.client.post(target, data, follow=True)
        assert answer.status_code == 200, (target, answer.status_code)
        at = answer.redirect_chain[-1][0] if answer.redirect_chain else target
        self.page = Page(at, answer.content.decode())
        assert answer.redirect_chain or form.get("method").lower() != "post", (self.page.path, self.page.errors)
        refused = [p.text for p in self.page.root.all("p") if "error" in p.get("class").split()]
        assert not refused, (self.page.path, refused)
        return self.page


def _option(form: Element, name: str, value: Any) -> Any:
    """Of a choice, the value whose words begin with ``value``; anything else as it was typed."""
    if isinstance(value, (list, tuple)):
        return [_option(form, name, one) for one in value]
    for select in form.all("select"):
        if select.get("name") == name:
            for option in select.all("option"):
                if option.text.startswith(str(value)) or option.get("value") == str(value):
                    return option.get("value")
            raise AssertionError(f"{name} has no choice {value!r}: {[option.text for option in select.all('option')]}")
    ticks = {box.get("id"): box for box in form.all("input") if box.get("name") == name and box.get("id")}
    for label in form.all("label"):
        box = ticks.get(label.get("for"))
        if box and box.get("type") in ("checkbox", "radio") and label.text.startswith(str(value)):
            return box.get("value", "on")
    return str(value)


def number(text: str) -> int:
    """The count at the beginning of a cell: ``1,234``, ``12 short``, ``–``."""
    found = re.match(r"[-−]?[\d,]+", text)
    return int(found[0].replace(",", "").replace("−", "-")) if found else 0
