"""A form to fill in has something to fill in: a page that another's template is made of keeps its fields."""

from __future__ import annotations

import re

import pytest

pytestmark = pytest.mark.django_db

#: Pages that only ask whether it is meant have nothing to check.
FORM = re.compile(r'<form\b(?=[^>]*\bclass="sheet\b)(?=[^>]*\bnovalidate\b)[^>]*>.*?</form>', re.S)
FIELD = re.compile(r'<(?:select|textarea|input\b(?![^>]*type="(?:hidden|submit)"))')


def empty_forms(html: str) -> list[str]:
    return [form for form in FORM.findall(html) if not FIELD.search(form)]


def test_a_form_without_fields_is_found():
    token = '<input type="hidden" name="csrfmiddlewaretoken" value="1">'
    assert empty_forms(f'<form method="post" class="sheet" novalidate>{token}<button>Save</button></form>')
    assert not empty_forms(
        f'<form method="post" class="sheet" novalidate>{token}<input name="name"><button>Save</button></form>'
    )
    assert not empty_forms(f'<form method="post" class="sheet">{token}<button>Send</button></form>')


def test_every_form_to_fill_in_has_fields(walked):
    asked = 0
    empty = []
    for name, answers in walked("imperial", ".").named.items():
        for path, answer in answers.items():
            asked += len(FORM.findall(answer.page))
            empty += [f"{name} {path}" for _ in empty_forms(answer.page)]
    assert not empty, empty
    assert asked > 100
