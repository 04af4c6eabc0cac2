"""Markup is escaped as Django's own ``format_html`` and ``conditional_escape`` do it, to the letter."""

from __future__ import annotations

from decimal import Decimal

from django.utils.functional import lazystr
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext_lazy
from hypothesis import given
from hypothesis import strategies as st

from farmbuild.common.markup import escaped, markup


class Drawn:
    """Says that it is markup, as a form does."""

    def __str__(self) -> str:
        return "<not this>"

    def __html__(self) -> str:
        return "<b>drawn</b>"


texts = st.text(st.sampled_from("<>&\"'{}%; aé\x00") | st.characters())
values = st.one_of(
    texts,
    texts.map(mark_safe),
    texts.map(lazystr),
    texts.map(lambda text: lazystr(mark_safe(text))),
    st.integers(),
    st.none(),
    st.booleans(),
    st.decimals(),
    st.lists(texts),
    st.just(Drawn()),
    st.just(gettext_lazy("Houses")),
    st.just(format_html("<i>{}</i>", "&")),
)


@given(values)
def test_escaped(value):
    assert escaped(value) == conditional_escape(value)


@given(values, values, values)
def test_markup(one, two, three):
    words = '<a href="{}" {{x}} title="{named}">{1}{0}</a>'.replace("{}", "{0}")
    found = markup(words, one, two, named=three)
    assert found == format_html(words, one, two, named=three)
    assert isinstance(found, SafeString)
    assert markup("<b>{}</b>", found) == format_html("<b>{}</b>", found)


def test_a_value_is_no_format():
    assert markup("{}{}", "{0}", Decimal("1.50")) == "{0}1.50"
