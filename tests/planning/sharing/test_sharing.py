"""Sharing benders: against every sharing of small cases, what changes nothing, and the words of each reason."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction
from random import Random

import pytest

from farmbuild.planning.sharing import search
from farmbuild.planning.sharing.plan import Request, Rules, Standing, Taken, share
from tests.planning.sharing.oracle import best
from tests.planning.sharing.season import BENDERS as SEASON_BENDERS
from tests.planning.sharing.season import farms, season
from tests.size import LONG

DAY = date(2027, 5, 3)
BENDERS = {"w": "West bender", "e": "East bender"}
NAMES = {"a": "Alder Patch", "b": "Brook Acre", "c": "Copse End"}


def on(number: int) -> date:
    return DAY + timedelta(days=number)


def ask(ref, member, days, first, last, benders=("w",), asked=0) -> Request:
    return Request(ref, member, days, on(first), on(last), tuple(benders), asked)


def members(**had) -> dict[str, Standing]:
    """``had``: by member, fields of a Standing or its days alone."""
    fields = {key: value if isinstance(value, dict) else {"days": value} for key, value in had.items()}
    return {key: Standing(name, **fields.get(key, {})) for key, name in NAMES.items()}


def met(found) -> list[str]:
    return sorted(row.request.ref for row in found.given)


def reason_of(found, ref: str) -> str:
    return next(row.reason for row in (*found.given, *found.not_given) if row.request.ref == ref)


def random_case(random: Random):
    requests = []
    for n in range(random.randint(1, 5)):
        first, days = random.randint(-1, 3), random.randint(1, 4)
        last = max(first, first + days - 1 + random.randint(-1, 2))
        fits = random.choice([("w",), ("w",), ("e",), ("w", "e"), ("e", "w"), ()])
        requests.append(ask(f"r{n}", random.choice("abc"), days, first, last, fits, asked=n))
    taken = []
    for name in BENDERS:
        if random.random() < 0.4:
            first = random.randint(-2, 4)
            taken.append(Taken(name, on(first), on(first + random.randint(0, 2)), "Dell House"))
    had = {
        key: Standing(
            NAMES[key],
            share=random.choice([1, 1, 2, 3]),
            days=random.choice([0, 0, 3, 6]),
            last_season=random.choice([0, 0, 4, 5]),
            open_days=random.choice([0, 3]),
            until=random.choice([None, on(-30), on(-5)]),
        )
        for key in NAMES
    }
    rules = Rules(
        last_season_percent=random.choice([0, 50, 100]),
        days_a_week_sooner=random.choice([0, 0, 0, 7]),
        together=random.random() < 0.8,
        most_days_open=random.choice([None, None, 5]),
    )
    return requests, BENDERS, taken, DAY, had, rules


@pytest.mark.parametrize("block", range(40 if LONG else 8))
def test_it_is_what_trying_everything_finds(block):
    random = Random(block)
    for _ in range(50):
        case = random_case(random)
        found = share(*case)
        assert found.exact
        assert found.bound is None
        got = {row.request.ref: (row.first, row.bender) for row in found.given}
        got |= {row.request.ref: None for row in found.not_given}
        assert got == best(*case), case
        for row in found.given:
            assert row.last == row.first + timedelta(days=row.request.days - 1)
            assert row.reason.endswith(".")
        for row in found.not_given:
            _earliest_holds(row, found, case)


def _earliest_holds(row, found, case):
    """The day that is named is free with all else as proposed, and no day before it is."""
    _, benders, taken, today, *_ = case
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


# What was unfair once


def test_never_had_one_and_asks_for_much_goes_before_two_who_had_many_days():
    asked = [ask("1", "a", 6, 0, 5), ask("2", "b", 3, 0, 5, asked=1), ask("3", "c", 3, 0, 5, asked=2)]
    had = members(b=60, c=60)
    found = share(asked, BENDERS, [], DAY, had)
    assert met(found) == ["1"]
    assert reason_of(found, "1") == (
        "It starts on the first day asked for, 3 May 2027. Alder Patch goes before Brook Acre: it had 0 days this"
        " season, for 1 share; Brook Acre had 60, for 1 share."
    )
    assert "Alder Patch goes before Copse End: it had" in reason_of(found, "3")
    assert "The earliest it could be had: West bender from 9 May 2027." in reason_of(found, "3")


def test_asking_twice_wins_one():
    asked = [ask("1", "a", 3, 0, 5), ask("2", "a", 3, 0, 5, asked=1), ask("3", "b", 3, 0, 5, asked=2)]
    assert met(share(asked, BENDERS, [], DAY, members())) == ["1", "3"]
    assert met(share(asked, BENDERS, [], DAY, members(b=2))) == ["1", "3"]
    assert met(share(asked, BENDERS, [], DAY, members(b=4))) == ["1", "2"]


def test_a_need_date_one_day_earlier_does_not_beat_never_had():
    asked = [ask("1", "b", 3, 0, 2), ask("2", "a", 3, 0, 3, asked=1)]
    found = share(asked, BENDERS, [], DAY, members(b=9))
    assert met(found) == ["2"]
    found = share(asked, BENDERS, [], DAY, members())
    assert met(found) == ["1"]
    assert "With equal days a share Brook Acre goes before Alder Patch: needs this back by 5 May 2027, not by" in (
        reason_of(found, "2")
    )


def test_who_asks_for_much_does_not_win_by_it():
    """Six days for one that had none, or three each for two that had none."""
    asked = [ask("1", "a", 6, 0, 5), ask("2", "b", 3, 0, 5, asked=1), ask("3", "c", 3, 0, 5, asked=2)]
    assert met(share(asked, BENDERS, [], DAY, members())) == ["2", "3"]
    assert met(share(asked[:2], BENDERS, [], DAY, members())) == ["1"]
    assert met(share([replace(asked[0], asked=9), asked[1]], BENDERS, [], DAY, members())) == ["2"]


# What changes nothing


def test_rows_names_and_keys_change_nothing():
    random = Random(99)
    for _ in range(25):
        requests, benders, taken, today, had, rules = random_case(random)
        usual = share(requests, benders, taken, today, had, rules)
        mixed = list(requests)
        random.shuffle(mixed)
        again = share(mixed, benders, taken, today, dict(reversed(had.items())), rules)
        assert again == usual
        other = {key: replace(had[key], name=name) for key, name in zip("abc", ("Zed", "Abe", "Mill"), strict=True)}
        keys = dict(zip("abc", ("9", "11", "2"), strict=True))
        renamed = share(
            [replace(row, member=keys[row.member]) for row in requests],
            benders,
            taken,
            today,
            {keys[key]: row for key, row in other.items()},
            rules,
        )
        shown = [(row.request.ref, row.bender, row.first) for row in usual.given]
        assert [(row.request.ref, row.bender, row.first) for row in renamed.given] == shown


def test_twice_the_shares_and_twice_the_days_change_nothing():
    """But for what is given, days are compared per share alone."""
    asked = [ask("1", "a", 3, 0, 2), ask("2", "b", 3, 0, 2, asked=1)]
    for days, share_of_a, wins in ((8, 1, "2"), (8, 2, "1"), (14, 4, "1"), (16, 4, "1"), (24, 4, "2")):
        had = members(a={"days": days, "share": share_of_a}, b={"days": 5})
        assert met(share(asked, BENDERS, [], DAY, had)) == [wins], (days, share_of_a)


def splits(random: Random, row: Request) -> list[Request]:
    """The same days in two or more pieces, in the same weeks."""
    left, found = row.days, []
    while left:
        days = random.randint(1, max(1, min(left, row.days - 1)))
        found.append(replace(row, ref=f"{row.ref}{len(found)}", days=days, asked=row.asked + 100 * len(found)))
        left -= days
    return found


def test_a_wish_that_is_split_takes_nothing_from_who_has_less():
    """Whoever gets fewer days because another split a wish is left with at least as many a share as somebody had who
    now gets more: nobody goes before one with fewer days by asking often."""
    random, fewer = Random(7), 0
    for _ in range(150):
        requests, benders, taken, today, had, rules = random_case(random)
        rules = replace(rules, together=True, days_a_week_sooner=0)
        long = [row for row in requests if row.days > 1]
        if not long:
            continue
        one = random.choice(long)
        other = [row for row in requests if row is not one] + splits(random, one)
        before = {row.member: row for row in share(requests, benders, taken, today, had, rules).members}
        after = {row.member: row for row in share(other, benders, taken, today, had, rules).members}
        lost = [after[key].after for key in after if key != one.member and after[key].given < before[key].given]
        gained = [before[key].after for key in after if after[key].given > before[key].given]
        fewer += bool(lost)
        assert not lost or min(gained) <= min(lost), (requests, one)
    assert fewer > 3


def test_a_wish_in_pieces_goes_no_sooner_than_whole():
    """Two alike in all but that one asks in pieces: who asked first has them all."""
    for first in (0, 1):
        whole = ask("a", "a", 6, 0, 5, asked=1 - first)
        pieces = [ask(f"b{n}", "b", 2, 0, 5, asked=first + 2 * n) for n in range(3)]
        found = share([whole, *pieces], BENDERS, [], DAY, members())
        assert met(found) == (["a"] if first else ["b0", "b1", "b2"])


# What the cooperative may change


def test_last_season_counts_at_its_weight():
    asked = [ask("1", "a", 3, 0, 2), ask("2", "b", 3, 0, 2, asked=1)]
    had = members(a={"last_season": 10}, b=4)
    assert met(share(asked, BENDERS, [], DAY, had, Rules(last_season_percent=50))) == ["2"]
    assert met(share(asked, BENDERS, [], DAY, had, Rules(last_season_percent=30))) == ["1"]
    found = share(asked, BENDERS, [], DAY, had)
    assert (
        "it had 4 days this season, for 1 share; Alder Patch had 0 and 10 the season before, for 1 share"
        in reason_of(found, "1")
    )
    assert "Alder Patch has 5 days a share" in reason_of(found, "1")


def test_a_week_sooner_may_count_as_days():
    asked = [ask("1", "a", 3, 0, 9), ask("2", "b", 3, 0, 2, asked=1), ask("3", "c", 10, 0, 9, asked=2)]
    had = members(b=5, c=90)
    for weight, wins in ((0, "1"), (4, "1"), (6, "2")):
        found = share(asked, {"w": "West"}, [Taken("w", on(3), on(9), "Dell House")], DAY, had, Rules(50, weight))
        assert met(found) == [wins], weight
    assert "the dates of need counted in" in reason_of(found, "1")


def test_wishes_may_count_one_by_one():
    asked = [ask("1", "a", 3, 0, 5), ask("2", "a", 3, 0, 5, asked=1), ask("3", "b", 3, 0, 5, asked=2)]
    assert met(share(asked, BENDERS, [], DAY, members(), Rules(together=False))) == ["1", "2"]


def test_nobody_has_more_days_open_than_the_rules_allow():
    asked = [ask(str(n), "a", 3, 0, 9, asked=n) for n in range(3)]
    had = members(a={"open_days": 4})
    found = share(asked, BENDERS, [], DAY, had, Rules(most_days_open=10))
    assert met(found) == ["0", "1"]
    assert found.not_given[0].reason == (
        "Alder Patch has 4 days booked or out and is given 6 days here. With these 3 days it would have more than"
        " 10 days, the most that the rules of sharing allow at a time."
    )
    alone = share(asked[:1], BENDERS, [], DAY, had, Rules(most_days_open=3)).not_given[0]
    assert alone.reason.startswith("Alder Patch has 4 days booked or out. With these 3 days")


# What it says


def test_what_each_had_and_has_is_told():
    asked = [ask("1", "a", 3, 0, 2), ask("2", "b", 3, 0, 2, asked=1), ask("3", "b", 2, 5, 9, asked=2)]
    had = members(a={"days": 4, "share": 2}, b={"days": 1, "last_season": 4})
    one, two = share(asked, BENDERS, [], DAY, had).members
    assert (one.member, one.asked, one.given, one.before, one.after) == ("a", 3, 3, 2, Fraction(7, 2))
    assert (two.member, two.asked, two.given, two.before, two.after) == ("b", 5, 2, 3, 5)


@pytest.mark.parametrize("rules", [Rules(), Rules(days_a_week_sooner=7), Rules(together=False)])
def test_what_a_member_had_is_told_once_and_without_its_dates_of_need(rules):
    """4 days on 2 shares are 2, and 3 + 2 more days make it 9 halves."""
    asked = [ask("1", "a", 3, 0, 2), ask("2", "a", 2, 5, 9, asked=1)]
    (row,) = share(asked, BENDERS, [], DAY, members(a={"days": 4, "share": 2}), rules).members
    assert (row.member, row.asked, row.given, row.before, row.after) == ("a", 5, 5, 2, Fraction(9, 2))


def test_with_equal_days_the_turn_is_said():
    """Same need date: never had one, then longest ago, then who asked first, then one's own first."""

    def told(a: date | None, b: date | None, whose: str = "ab") -> str:
        had = members(a={"days": 3, "until": a}, b={"days": 3, "until": b})
        asked = [ask(str(n), member, 1, 0, 0, asked=n) for n, member in enumerate(whose)]
        return share(asked, BENDERS, [], DAY, had).given[0].reason

    assert "goes before Brook Acre: it never had one, while Brook Acre had one until 28 April 2027." in told(
        None, on(-5)
    )
    assert "Brook Acre goes before Alder Patch: it never had one" in told(on(-5), None)
    assert "it had one last on 24 March 2027, while Alder Patch had one until 28 April 2027." in told(on(-5), on(-40))
    assert "Alder Patch goes before Brook Acre: it asked first." in told(on(-5), on(-5))
    assert "Alder Patch asked for this first." in told(None, None, "aa")


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
    assert words in share([request_], BENDERS, taken, DAY, members()).not_given[0].reason


def test_a_later_start_says_who_is_before():
    found = share([ask("1", "a", 2, 0, 5)], BENDERS, [Taken("w", DAY, on(1), "Dell House")], DAY, members())
    assert found.given[0].reason == (
        "It starts on 5 May 2027, the first day left for 2 days in a row. Before then, West bender is taken by"
        " Dell House from 3 May 2027 to 4 May 2027. Nobody else asks for it in these days."
    )


def test_a_bender_less_wanted_is_told_of_only_where_it_saves_waiting():
    """West is wanted first. Where it is taken on the first day, East is given and why; where both are, who has them
    until then is said once."""
    until = {"w": on(2), "e": on(0)}
    taken = [Taken("w", DAY, until["w"], "Dell House"), Taken("e", DAY, until["e"], "Fern Farm")]
    first = share([ask("1", "a", 1, 0, 5, ("w", "e"))], BENDERS, taken[:1], DAY, members()).given[0]
    assert (first.bender, first.first) == ("e", DAY)
    assert first.reason == (
        "It starts on the first day asked for, 3 May 2027. East bender, because West bender is taken by Dell House"
        " from 3 May 2027 to 5 May 2027. Nobody else asks for it in these days."
    )
    later = share([ask("1", "a", 1, 0, 5, ("w", "e"))], BENDERS, taken, DAY, members()).given[0]
    assert (later.bender, later.first) == ("e", on(1))
    assert later.reason == (
        "It starts on 4 May 2027, the first day left for 1 day in a row. Before then, West bender is taken by"
        " Dell House from 3 May 2027 to 5 May 2027; East bender is taken by Fern Farm on 3 May 2027."
        " Nobody else asks for it in these days."
    )


def test_a_day_that_has_passed_is_no_start():
    given = share([ask("1", "a", 2, -3, 5)], BENDERS, [], DAY, members()).given[0]
    assert given.first == DAY
    assert given.reason.startswith("It starts today, 3 May 2027: the first day asked for has passed.")


def test_of_many_who_have_it_three_are_named():
    taken = [Taken("w", on(n), on(n), f"Farm {n}") for n in range(5)]
    left = share([ask("1", "a", 1, 0, 4)], BENDERS, taken, DAY, members()).not_given[0]
    assert (
        "West bender is taken by Farm 0 on 3 May 2027, Farm 1 on 4 May 2027, Farm 2 on 5 May 2027 and 2 more."
        in left.reason
    )
    three = share([ask("1", "a", 1, 0, 2)], BENDERS, taken[:3], DAY, members()).not_given[0]
    assert "Farm 1 on 4 May 2027 and Farm 2 on 5 May 2027." in three.reason


def test_who_could_not_have_it_anyway_hears_nothing_of_others_who_ask():
    asked = [ask("1", "a", 4, 1, 5), ask("2", "b", 2, 0, 9)]
    left = share(asked, BENDERS, [Taken("w", on(4), on(5), "Dell House")], DAY, members()).not_given[0]
    assert left.reason == (
        "No 4 days in a row are left by 8 May 2027: West bender is taken by Dell House from 7 May 2027 to 8 May 2027."
        " The earliest it could be had: West bender from 9 May 2027."
    )


def test_forty_requests_are_shared_exactly():
    random = Random(5)
    asked = []
    for n in range(40):
        first = random.randint(0, 50)
        days = random.randint(1, 6)
        fits = ("w", "e")
        asked.append(ask(f"r{n}", f"m{n % 9}", days, first, first + days + random.randint(0, 9), fits, n))
    had = {f"m{n}": Standing(f"Farm {n}", share=1 + n % 2, days=n) for n in range(9)}
    found = share(asked, BENDERS, [], DAY, had)
    assert found.exact
    assert len(found.given) + len(found.not_given) == 40


def test_what_is_not_proven_says_how_far_it_is(monkeypatch):
    """With no effort at all there is a sharing still, the first one found, and what of it is proven."""
    monkeypatch.setattr(search, "EFFORT", 0.0)
    asked = [ask("1", "a", 6, 0, 5), ask("2", "b", 3, 0, 5, asked=1), ask("3", "c", 3, 0, 5, asked=2)]
    found = share(asked, BENDERS, [], DAY, members())
    assert not found.exact
    assert met(found) == ["1"]
    assert found.bound == search.Bound(level=Fraction(0), members=2, proven=0)


# A season


def days_by_farm(had) -> dict[str, int]:
    return {key: sum((row.last - row.first).days + 1 for row in spans) for key, spans in had.items()}


def water_level(asked: dict[str, int], shares: dict[str, int], days: int) -> float:
    """Days a share at which so many days run out, each farm having no more than it asked for: the fairest there is,
    as if days could be cut at will."""
    left, level = float(days), 0.0
    open_farms = sorted(asked, key=lambda key: asked[key] / shares[key])
    while open_farms:
        wide = sum(shares[key] for key in open_farms)
        top = asked[open_farms[0]] / shares[open_farms[0]]
        if (top - level) * wide >= left:
            return level + left / wide
        left -= (top - level) * wide
        level = top
        open_farms.pop(0)
    return level


def test_days_a_share_are_within_a_tenth_after_a_season():
    """Twelve farms and three benders for 26 weeks, a third of the wishes refused. Whoever asked for enough is within a
    tenth of the level at which the days that were given run out; whoever asked for less has nearly all of it."""
    asking = farms()
    asked, had = season(Random(20270104), asking)
    for bender in SEASON_BENDERS:
        days = [
            row.first + timedelta(days=n)
            for spans in had.values() for row in spans if row.bender == bender
            for n in range((row.last - row.first).days + 1)
        ]  # fmt: skip
        assert len(days) == len(set(days)) > 170
    shares = {farm.key: farm.share for farm in asking}
    given = days_by_farm(had)
    level = water_level(asked, shares, sum(given.values()))
    assert sum(given.values()) < 0.75 * sum(asked.values())
    for key, days in given.items():
        fair = min(level, asked[key] / shares[key])
        assert 0.9 * fair <= days / shares[key] <= 1.1 * level, (key, days, fair, level)
    assert sum(asked[key] / shares[key] > level for key in asked) >= 10


def test_who_would_go_first_but_cannot_have_it_is_not_said_to_come_behind():
    """Brook Acre never had one, but asks for four days where three are."""
    asked = [ask("1", "a", 1, 0, 2), ask("2", "b", 4, 0, 2)]
    had = members()
    had["a"] = replace(had["a"], days=9)
    given = share(asked, BENDERS, [], DAY, had).given[0]
    assert "goes before" not in given.reason
    assert given.reason.endswith("had 9 days this season, for 1 share.")
