"""Every list page of a farm that has nothing yet says what belongs there, and has one main button, with words."""

from __future__ import annotations

import re

import pytest

from tests.quality.test_query_counts import LISTS
from tests.reading import text_of

pytestmark = pytest.mark.django_db

#: Never without rows, of one thing that exists, or a sheet or file. The list of a day has no rows to make there.
OTHERS = {
    "/people/",
    "/people/log/",
    "/crew/day/",
    "/crew/rates/",
    "/crew/travel/",
    "/crew/worked/",
    "/crew/worked/hours.xlsx",
    "/crew/week/2087-01-06/",
    "/stock/counts/start/",
    "/stock/season-end/",
}
#: Lists that the walk over query counts names by what is on them.
MORE = {"/hoops/benders/", "/hoops/batches/"}
_OF_ONE = re.compile(r"[{\d]|/one/")
EMPTY = sorted({address.split("?")[0] for address, _ in LISTS if not _OF_ONE.search(address)} - OTHERS | MORE)


@pytest.mark.parametrize("invented", [False, True], ids=["first season", "later"])
@pytest.mark.parametrize("address", EMPTY)
def test_an_empty_list_says_what_belongs_there_and_has_one_button(signed_in, organisation, address, invented):
    organisation.invented = invented
    organisation.save()
    response = signed_in.get(address)
    assert response.status_code == 200
    page = text_of(response).split("<main")[1].split("</main>")[0]
    (said,) = re.findall(r'<div class="empty"><p>(.*?)</p>', page)
    assert len(said.split()) >= 5
    buttons = re.findall(r'<(?:a|button)[^>]* class="action"[^>]*>(.*?)</(?:a|button)>', page)
    assert len(buttons) == 1 and re.search(r"\w", buttons[0]), buttons
