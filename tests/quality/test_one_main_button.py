"""One main button before the first drawing or table of a page; what else can be done is folded, and nothing is lost."""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import urlsplit

import pytest
from django.template import Context, Template
from django.urls import resolve

from farmbuild.orgs.addresses import split_address
from tests.season.visitor import Element, Page

pytestmark = pytest.mark.django_db

#: What could be done on each page when its buttons stood side by side at its head; pages of the demo season.
OFFERED = {
    "buying:order": "buying:cancel buying:line-add buying:order-change buying:send buying:workbook",
    "catalogue:material-sizes": (
        "catalogue:material catalogue:material-archive catalogue:material-prices catalogue:offer-wanted stock:lots"
    ),
    "catalogue:supplier": "catalogue:list-new catalogue:offer-new catalogue:supplier-edit",
    "crew:board": (
        "crew:day crew:hours crew:people crew:problems crew:schedule-new crew:schedules crew:shared "
        "crew:templates crew:week-sheet crew:wind"
    ),
    "crew:crew": "crew:crew-archive crew:crew-edit crew:person-new",
    "crew:person": "crew:day crew:day-off-new crew:person-archive crew:person-edit",
    "crew:request": "crew:proposal crew:request-decline crew:request-withdraw",
    "crew:shared": "crew:booking-new crew:proposal crew:request-new",
    "crew:task": "crew:board crew:task-slip hoops:batch",
    "hoops:batch": (
        "hoops:batch-finish hoops:batch-give-back hoops:batch-issue hoops:batch-sheet hoops:batch-spoilt "
        "hoops:batch-trial"
    ),
    "hoops:recipe": "hoops:batch-new hoops:recipe-archive hoops:recipe-edit hoops:recipe-sheet",
    "hoops:recipes": "hoops:batches hoops:benders hoops:recipe-for-span hoops:recipe-new",
    "plans:plan": "buying:send plans:again",
    "sites:house": (
        "costs:house crew:house-work hoops:batch-new hoops:fit-latest plans:house-held sites:house-archive "
        "sites:house-copy sites:house-edit sites:takeoff"
    ),
    "sites:houses": "costs:houses projects:project sites:house-new sites:sites",
    "sites:site": "sites:house-new sites:site-archive sites:site-copy sites:site-edit sites:site-places",
    "stock:count": "stock:count-import stock:count-place stock:count-review stock:count-sheets stock:count-xlsx",
    "stock:lot": "stock:labels stock:lot-edit stock:lot-receive stock:lot-short",
    "stock:lots": (
        "catalogue:materials stock:availability stock:counts stock:held stock:import stock:labels "
        "stock:ledger stock:places stock:receive stock:season-end stock:yard"
    ),
}


def kinds(element: Element) -> list[str]:
    return element.get("class").split()


def every(element: Element) -> Iterator[Element]:
    for child in element.children:
        if isinstance(child, Element):
            yield child
            yield from every(child)


def within(element: Element, kind: str) -> bool:
    outer = element.parent
    while outer is not None and kind not in kinds(outer):
        outer = outer.parent
    return outer is not None


def heads(main: Element) -> list[Element]:
    """The buttons under the answer; those that stand beside a part are further down."""
    return [one for one in every(main) if kinds(one) == ["actions"] and one.parent is main][:1]


def names_in(part: Element) -> set[str]:
    """Names of the addresses that links lead to and forms are sent to."""
    found = [link.get("href") for link in part.all("a")] + [form.get("action") for form in part.all("form")]
    # An address with a scheme is for another program; a page of a person keeps what the client takes off elsewhere.
    paths = [split.path for split in map(urlsplit, found) if split.path and not split.scheme]
    return {resolve(split_address(path)[1] or path).view_name for path in paths}


def before_the_first_drawing(main: Element) -> Iterator[Element]:
    for element in every(main):
        if element.name in ("table", "figure") or "drawing" in kinds(element):
            return
        yield element


def faults_of(html: str) -> list[str]:
    """More than one main button, or more than one other that is not folded, before the first drawing or table."""
    main = next(Page("", html).root.all("main"))
    head = list(before_the_first_drawing(main))
    # The page of a lot in the hand is nothing but what is pressed with the thumb.
    mains = [one.text for one in head if "action" in kinds(one) and not within(one, "hand")]
    buttons = [one for part in heads(main) for one in part.all("a", "button")]
    others = [one.text for one in buttons if "action" not in kinds(one) and not within(one, "more")]
    told = [f"main buttons: {mains}"] if len(mains) > 1 else []
    return told + ([f"beside it, not folded: {others}"] if len(others) > 1 else [])


def test_a_page_has_one_main_button_before_its_first_drawing(walked):
    walk = walked("imperial", ".")
    pages = {path: answer.page for path, answer in walk.linked.items() if answer.page}
    for found in walk.named.values():
        pages |= {path: answer.page for path, answer in found.items() if answer.page}
    told = {path: faults for path, page in pages.items() if (faults := faults_of(page))}
    assert len(pages) > 100 and not told, "\n".join(f"{path}: {faults}" for path, faults in told.items())


def test_nothing_that_could_be_done_is_lost(walked):
    offered: dict[str, set[str]] = {}
    for path, answer in walked("imperial", ".").linked.items():
        for main in Page(path, answer.page).root.all("main"):
            offered.setdefault(resolve(path).view_name, set()).update(names_in(main))
    lost = {name: set(wanted.split()) - offered.get(name, set()) for name, wanted in OFFERED.items()}
    assert not {name: missing for name, missing in lost.items() if missing}


def shown(inside: str) -> Element:
    return Page("", Template("{% load actions %}{% more %}" + inside + "{% end_more %}").render(Context())).root


def test_two_buttons_fold_and_a_single_one_stands_open():
    two = shown('<a class="button" href="/houses/">Edit</a><form action="/stock/"><button>Archive</button></form>')
    (fold,) = [child for child in two.children if isinstance(child, Element)]
    assert fold.name == "details" and next(fold.all("summary")).text == "More" and "open" not in fold.attributes
    assert names_in(fold) == {"sites:houses", "stock:lots"}
    assert [one.name for one in every(shown('<a class="button" href="/houses/">Edit</a>'))] == ["a"]
    assert not list(every(shown(" ")))


def test_two_main_buttons_and_buttons_in_a_row_are_found():
    head = '<main><div class="actions"><a class="action">One</a>{}</div><table></table><a class="action">Two</a></main>'
    assert faults_of(head.format("")) == []
    assert faults_of(head.format('<button class="action">Again</button>')) == ["main buttons: ['One', 'Again']"]
    row = '<a class="button">Edit</a><button>Archive</button>'
    assert faults_of(head.format(row)) == ["beside it, not folded: ['Edit', 'Archive']"]
    assert faults_of(head.format(f'<details class="more"><summary>More</summary><div>{row}</div></details>')) == []
