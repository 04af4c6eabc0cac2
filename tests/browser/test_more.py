"""What a page has besides its main button, opened and pressed with keys alone, where no script runs."""

from __future__ import annotations

import pytest

from tests.factories import SiteFactory

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]


def test_a_site_is_archived_under_more_by_keys_and_without_a_script(page_at, demo):
    site = SiteFactory(organisation=demo.organisation)
    page = page_at(390, java_script_enabled=False)
    page.goto(f"/sites/{site.slug}/")
    fold = page.locator("main .more summary")
    archive = page.get_by_role("button", name="Archive", exact=True)
    assert not archive.is_visible()
    before = fold.bounding_box()
    fold.focus()
    page.keyboard.press("Enter")
    assert archive.is_visible() and fold.bounding_box() == before, "it stays where it was pressed"
    page.keyboard.press("Enter")
    assert not archive.is_visible()
    page.keyboard.press("Enter")
    hidden = page.locator("main .more form input[type=hidden]")
    assert [one.get_attribute("name") for one in hidden.all()] == ["csrfmiddlewaretoken", "once"]
    with page.expect_navigation():
        archive.press("Enter")
    site.refresh_from_db()
    assert site.archived_at is not None
