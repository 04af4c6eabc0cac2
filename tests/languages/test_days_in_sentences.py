"""A day inside a sentence of the floors without Django is said in the language of the page."""

from __future__ import annotations

import pickle
from datetime import date

from django.utils import translation
from django.utils.dates import MONTHS, MONTHS_3, WEEKDAYS, WEEKDAYS_ABBR

from farmbuild.common.speaking import said
from farmbuild.measure import format_day
from farmbuild.measure.speech import sentence
from tests.languages.catalogue import messages_of

DAY = date(2027, 5, 3)


def test_a_day_in_a_sentence_follows_the_reader_and_stays_english_where_it_is_kept():
    words = pickle.loads(pickle.dumps(sentence("at %(day)s and %(other)s", day=format_day(DAY), other="3 May 2027")))
    assert words == "at 3 May 2027 and 3 May 2027"
    with translation.override("es"):
        assert said(words) == "at 3 de mayo de 2027 and 3 May 2027"
        assert said(format_day(DAY)) == "3 de mayo de 2027"
    assert said(words) == words


def test_no_word_of_ours_is_spelt_as_a_day_or_month_of_the_calendar():
    """Dates would be said by it: who may do something is "allowed to" do so."""
    calendar = {str(name) for names in (MONTHS, MONTHS_3, WEEKDAYS, WEEKDAYS_ABBR) for name in names.values()}
    assert "May" in calendar and len(calendar) > 30
    assert {message.one for message in messages_of("es") if not message.context} & calendar == set()
