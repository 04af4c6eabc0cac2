"""The best sharing by trying everything, worked out from the rules in words. Shares no code with the search."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from itertools import product


def days_of(first, count):
    return [first + timedelta(days=n) for n in range(count)]


def ways_of(row, benders, used, today):
    """None, and every first day with the place of its bender in the list that is free but for who asks."""
    found = [None]
    for first in days_of(row.earliest, max(0, (row.need_by - row.earliest).days + 1)):
        mine = days_of(first, row.days)
        if first < today or mine[-1] > row.need_by:
            continue
        for at, bender in enumerate(row.benders):
            if bender in benders and not any((bender, day) in used for day in mine):
                found.append((first, at))
    return found


def best(requests, benders, taken, today, members, rules):
    """By ref of each request: first day and bender, or None."""
    turn = sorted(
        requests, key=lambda row: (row.need_by, members[row.member].until or date(1, 1, 1), row.asked, row.ref)
    )
    used = {(row.bender, day) for row in taken for day in days_of(row.first, (row.last - row.first).days + 1)}
    ways = [ways_of(row, benders, used, today) for row in turn]
    if rules.most_days_open is not None:
        for at, row in enumerate(turn):
            if row.days > rules.most_days_open - members[row.member].open_days:
                ways[at] = [None]
    claims = {}
    for at, row in enumerate(turn):
        claims.setdefault(row.member if rules.together else row.ref, []).append(at)
    best_key, best_choice = None, None
    for choice in product(*ways):
        held = [
            (row.benders[way[1]], day) for row, way in zip(turn, choice, strict=True) if way
            for day in days_of(way[0], row.days)
        ]  # fmt: skip
        if len(set(held)) < len(held) or _too_many_open(turn, choice, members, rules):
            continue
        regrets = []
        for rows in claims.values():
            if any(choice[at] is None and len(ways[at]) > 1 for at in rows):
                had = members[turn[rows[0]].member]
                given = sum(turn[at].days for at in rows if choice[at])
                counted = had.days + Fraction(had.last_season * rules.last_season_percent, 100) + given
                weeks = Fraction(max((turn[at].need_by - today).days for at in rows), 7)
                regrets.append(counted / had.share + weeks * rules.days_a_week_sooner)
        regrets = sorted(regrets) + [10**9] * (len(claims) - len(regrets))
        key = (
            [-level for level in regrets],
            [way is None for way in choice],
            [way or (date.max, 0) for way in choice],
        )
        if best_key is None or key < best_key:
            best_key, best_choice = key, choice
    return {
        row.ref: way and (way[0], row.benders[way[1]]) for row, way in zip(turn, best_choice, strict=True)
    }  # fmt: skip


def _too_many_open(turn, choice, members, rules):
    if rules.most_days_open is None:
        return False
    open_days = {}
    for row, way in zip(turn, choice, strict=True):
        if way:
            open_days[row.member] = open_days.get(row.member, 0) + row.days
    return any(days > max(0, rules.most_days_open - members[key].open_days) for key, days in open_days.items())
