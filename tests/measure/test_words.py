"""How counts, lists, days and times of work are said; the sentences are written here by hand."""

from datetime import date

import pytest

from farmbuild.measure import count_noun, format_day, format_minutes, join_words


@pytest.mark.parametrize(
    ("count", "nouns", "words"),
    [
        (0, ("stick",), "0 sticks"),
        (1, ("stick",), "1 stick"),
        (1200, ("stick",), "1,200 sticks"),
        (1, ("length of channel",), "1 length of channel"),
        (2, ("length of channel",), "2 lengths of channel"),
        (1, ("person", "people"), "1 person"),
        (3, ("person", "people"), "3 people"),
    ],
)
def test_a_count_with_its_noun(count, nouns, words):
    assert count_noun(count, *nouns) == words


@pytest.mark.parametrize(
    ("parts", "words"),
    [([], ""), (["a"], "a"), (["a", "b"], "a and b"), (["a", "b", "c"], "a, b and c")],
)
def test_a_list_in_a_sentence(parts, words):
    assert join_words(iter(parts)) == words


def test_a_day_and_times_of_work():
    assert format_day(date(2027, 5, 3)) == "3 May 2027"
    assert [format_minutes(n) for n in (0, 45, 60, 135, 60_015)] == [
        "0 min",
        "45 min",
        "1 h",
        "2 h 15 min",
        "1,000 h 15 min",
    ]
