"""Sharing benders: against every possible allocation of small cases, and the words of each reason."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import product
from random import Random

import pytest

from farmbuild.planning.sharing.plan import Request, Taken, Turn, in_turn, share

DAY = date(2027, 5, 3)
BENDERS = {"w": "West bender", "e": "East bender"}
NAMES = {"a": "Alder Patch", "b": "Brook Acre", "c": "Copse End"}


def on(number: int) -> date:
    return DAY + timedelta(days=number)


def ask(ref, member, days, first, last, benders=("w",), asked=0) -> Request:
    return Request(ref, NAMES.get(member, member), days, on(first), on(last), tuple(benders), asked)


def brute(requests, benders, taken, today, turns):
    """Every way to place or leave out each request; the best by the three rules, written out anew."""
    order = in_turn(requests, turns)
    used = [
        (row.bender, row.first + timedelta(days=n)) for row in taken for n in range((row.last - row.first).days + 1)
    ]
    best_key, best = None, None
    ways = []
    for row in order:
        free = [None]
        for n in range((row.need_by - row.earliest).days + 1):
            first = row.earliest + timedelta(days=n)
            if first >= today and first + timedelta(days=row.days - 1) <= row.need_by:
                free += [(first, at) for at, name in enumerate(row.benders) if name in benders]
        ways.append(free)
    for choice in product(*ways):
        days = list(used)
        for row, place in zip(order, choice, strict=True):
            if place:
                days += [(row.benders[place[1]], place[0] + timedelta(days=n)) for n in range(row.days)]
        mine = days[len(used) :]
        if len(set(mine)) < len(mine) or set(mine) & set(used):
            continue
        met = [place is not None for place in choice]
        key = (-sum(met), [not done for done in met], [place or (date.max, 0) for place in choice])
        if best_key is None or key < best_key:
            best_key, best = key, choice
    return {row.ref: place and (place[0], row.benders[place[1]]) for row, place in zip(order, best, strict=True)}


def random_case(random: Random):
    requests = []
    for n in range(random.randint(1, 4)):
        first, days = random.randint(-1, 4), random.randint(1, 3)
        last = first + random.randint(0, 4)
        fits = random.choice([("w",), ("e",), ("w", "e"), ("e", "w"), ()])
        requests.append(ask(f"r{n}", random.choice("abc"), days, first, last, fits, asked=n))
    taken = []
    for name in BENDERS:
        if random.random() < 0.5:
            first = random.randint(-2, 5)
            taken.append(Taken(name, on(first), on(first + random.randint(0, 2)), "Dell House"))
    turns = {
        NAMES[name]: Turn(random.choice([None, on(-30), on(-5)]), random.randint(0, 3))
        for name in "abc"
        if random.random() < 0.7
    }
    return requests, BENDERS, taken, DAY, turns


@pytest.mark.parametrize("block", range(10))
def test_it_is_what_trying_everything_finds(block):
    random = Random(block)
    for _ in range(60):
        case = random_case(random)
        found = share(*case)
        assert found.exact
        got = {row.request.ref: (row.first, row.bender) for row in found.given}
        got |= {row.request.ref: None for row in found.not_given}
        assert got == brute(*case), case
        for row in found.given:
            assert row.last == row.first + timedelta(days=row.request.days - 1)
            assert row.reason.endswith(".")
        for row in found.not_given:
            _earliest_holds(row, found, case)


def _earliest_holds(row, found, case):
    """The day that is named is free with all else as proposed, and no day before it is."""
    _, benders, taken, today, _ = case
    spans = list(taken) + [Taken(given.bender, given.first, given.last, "") for given in found.given]

    def free(bender, first):
        last = first + timedelta(days=row.request.days - 1)
        return all(span.bender != bender or span.last < first or span.first > last for span in spans)

    if not row.request.benders:
        assert row.first is None
        return
    assert free(row.bender, row.first)
    start = max(row.request.earliest, today)
    for n in range((row.first - start).days):
        assert not any(free(bender, start + timedelta(days=n)) for bender in row.request.benders if bender in benders)


def test_the_order_of_asking_and_listing_changes_nothing():
    random = Random(99)
    for _ in range(20):
        requests, *rest = random_case(random)
        mixed = list(requests)
        random.shuffle(mixed)
        assert share(mixed, *rest) == share(requests, *rest)


def test_the_need_date_goes_first():
    found = share([ask("1", "b", 3, 0, 4), ask("2", "a", 3, 0, 3, asked=1)], BENDERS, [], DAY, {})
    (given,), (left,) = found.given, found.not_given
    words = "Alder Patch goes before Brook Acre: needed back by 6 May 2027, not by 7 May 2027."
    assert (given.request.member, given.first, given.last) == ("Alder Patch", DAY, on(2))
    assert given.reason == f"It starts on the first day asked for, 3 May 2027. {words}"
    assert f" {words} The earliest it could be had: West bender from 6 May 2027." in left.reason


def test_with_room_for_one_the_turn_decides():
    turns = {"Alder Patch": Turn(on(-3), 9), "Brook Acre": Turn(on(-40), 2)}
    found = share([ask("1", "a", 3, 0, 3), ask("2", "b", 3, 0, 3, asked=1)], BENDERS, [], DAY, turns)
    (given,), (left,) = found.given, found.not_given
    assert given.request.member == "Brook Acre"
    turn = (
        "Brook Acre goes before Alder Patch: both are needed back by 6 May 2027, and Brook Acre had one last on"
        " 24 March 2027, while Alder Patch had one until 30 April 2027."
    )
    assert given.reason == f"It starts on the first day asked for, 3 May 2027. {turn}"
    assert left.reason == (
        "No 3 days in a row are left by 6 May 2027: West bender is taken by Brook Acre from 3 May 2027 to 5 May 2027."
        f" {turn} The earliest it could be had: West bender from 6 May 2027."
    )
    assert (left.bender, left.first) == ("w", on(3))


def test_more_met_beats_the_need_date():
    asked = [ask("1", "a", 4, 0, 3), ask("2", "b", 2, 0, 4), ask("3", "c", 2, 0, 4, asked=1)]
    found = share(asked, BENDERS, [], DAY, {})
    assert [row.request.ref for row in found.given] == ["2", "3"]
    assert "would leave more requests unmet" in found.not_given[0].reason


@pytest.mark.parametrize(
    ("request_", "words"),
    [
        (ask("1", "a", 1, 0, 2, ()), "No bender that is lent fits what is asked for."),
        (ask("1", "a", 4, 0, 2), "there are 3 days, and 4 days in a row are asked for. The earliest it could be had"),
        (ask("1", "a", 1, -5, -2), "The day it is needed back by, 1 May 2027, has passed."),
        (ask("1", "a", 2, 0, 2), "West bender is taken by Dell House from 3 May 2027 to 4 May 2027. The earliest"),
    ],
)
def test_what_stands_in_the_way_is_named(request_, words):
    taken = [Taken("w", DAY, on(1), "Dell House")]
    assert words in share([request_], BENDERS, taken, DAY, {}).not_given[0].reason


def test_a_later_start_says_who_is_before():
    found = share([ask("1", "a", 2, 0, 5)], BENDERS, [Taken("w", DAY, on(1), "Dell House")], DAY, {})
    assert found.given[0].reason == (
        "It starts on 5 May 2027, the first day left for 2 days in a row. Before then, West bender is taken by"
        " Dell House from 3 May 2027 to 4 May 2027. Nobody else asks for it in these days."
    )


def test_a_bender_less_wanted_is_told_of_only_where_it_saves_waiting():
    """West is wanted first. Where it is taken on the first day, East is given and why; where both are, who has them
    until then is said once."""
    until = {"w": on(2), "e": on(0)}
    taken = [Taken("w", DAY, until["w"], "Dell House"), Taken("e", DAY, until["e"], "Fern Farm")]
    first = share([ask("1", "a", 1, 0, 5, ("w", "e"))], BENDERS, taken[:1], DAY, {}).given[0]
    assert (first.bender, first.first) == ("e", DAY)
    assert first.reason == (
        "It starts on the first day asked for, 3 May 2027. East bender, because West bender is taken by Dell House"
        " from 3 May 2027 to 5 May 2027. Nobody else asks for it in these days."
    )
    later = share([ask("1", "a", 1, 0, 5, ("w", "e"))], BENDERS, taken, DAY, {}).given[0]
    assert (later.bender, later.first) == ("e", on(1))
    assert later.reason == (
        "It starts on 4 May 2027, the first day left for 1 day in a row. Before then, West bender is taken by"
        " Dell House from 3 May 2027 to 5 May 2027; East bender is taken by Fern Farm on 3 May 2027."
        " Nobody else asks for it in these days."
    )


def test_a_day_that_has_passed_is_no_start():
    given = share([ask("1", "a", 2, -3, 5)], BENDERS, [], DAY, {}).given[0]
    assert given.first == DAY
    assert given.reason.startswith("It starts today, 3 May 2027: the first day asked for has passed.")


def test_of_many_who_have_it_three_are_named():
    taken = [Taken("w", on(n), on(n), f"Farm {n}") for n in range(5)]
    left = share([ask("1", "a", 1, 0, 4)], BENDERS, taken, DAY, {}).not_given[0]
    assert (
        "West bender is taken by Farm 0 on 3 May 2027, Farm 1 on 4 May 2027, Farm 2 on 5 May 2027 and 2 more."
        in left.reason
    )
    three = share([ask("1", "a", 1, 0, 2)], BENDERS, taken[:3], DAY, {}).not_given[0]
    assert "Farm 1 on 4 May 2027 and Farm 2 on 5 May 2027." in three.reason


def test_who_goes_first_is_said_by_what_they_had():
    """Same need date: never had one, then fewer days, then who asked first, then one's own first."""

    def told(a: Turn | None, b: Turn | None, members: str = "ab") -> str:
        turns = {NAMES[m]: turn for m, turn in zip("ab", (a, b), strict=True) if turn}
        asked = [ask(str(n), member, 1, 0, 0, asked=n) for n, member in enumerate(members)]
        return share(asked, BENDERS, [], DAY, turns).given[0].reason

    assert "Alder Patch never had one, while Brook Acre had one until 28 April 2027." in told(None, Turn(on(-5), 1))
    assert "Brook Acre never had one, while Alder Patch" in told(Turn(on(-5), 1), None)
    assert "Brook Acre had one for 1 day, Alder Patch for 3 days." in told(Turn(on(-5), 3), Turn(on(-5), 1))
    assert "and Alder Patch asked first." in told(Turn(on(-5), 1), Turn(on(-5), 1))
    assert "Alder Patch asked for this first." in told(None, None, "aa")


def test_forty_requests_are_shared_exactly():
    random = Random(5)
    asked = []
    for n in range(40):
        first = random.randint(0, 50)
        days = random.randint(1, 6)
        asked.append(ask(f"r{n}", f"Farm {n % 9}", days, first, first + days + random.randint(0, 9), ("w", "e"), n))
    found = share(asked, BENDERS, [], DAY, {})
    assert found.exact
    assert len(found.given) + len(found.not_given) == 40


def test_who_could_not_have_it_anyway_hears_nothing_of_others_who_ask():
    asked = [ask("1", "a", 4, 1, 5), ask("2", "b", 2, 0, 9)]
    left = share(asked, BENDERS, [Taken("w", on(4), on(5), "Dell House")], DAY, {}).not_given[0]
    assert left.reason == (
        "No 4 days in a row are left by 8 May 2027: West bender is taken by Dell House from 7 May 2027 to 8 May 2027."
        " The earliest it could be had: West bender from 9 May 2027."
    )
