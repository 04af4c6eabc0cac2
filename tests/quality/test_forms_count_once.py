"""Every form of the site carries the token by which it counts once."""

from __future__ import annotations

import re

import pytest

from tests.where import ROOT

#: Signing in changes nothing that could count twice; what is asked about a press carries the token of that press.
WITHOUT = {"sign_in.html", "set_password.html", "access/sign_in_code.html", "orgs/choose_for_a_press.html"}
FOUND = sorted(
    path for path in (ROOT / "templates").rglob("*.html") if "csrf_token" in path.read_text(encoding="utf-8")
)


@pytest.mark.parametrize("path", FOUND, ids=lambda path: path.relative_to(ROOT / "templates").as_posix())
def test_the_token_stands_beside_the_other(path):
    text = path.read_text(encoding="utf-8")
    if path.relative_to(ROOT / "templates").as_posix() in WITHOUT:
        assert "{% once %}" not in text
    else:
        assert len(re.findall(r"{% csrf_token %}{% once %}", text)) == text.count("csrf_token")


def test_no_form_that_posts_is_without_one():
    for path in (ROOT / "templates").rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        for form in re.split(r'<form[^>]*method="post"', text)[1:]:
            assert "csrf_token" in form.split("</form>")[0], path
