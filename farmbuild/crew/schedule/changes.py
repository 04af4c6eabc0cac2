"""What has changed between two looks at what a schedule rests on (see ``seen``), in sentences."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from datetime import date
from typing import Any

from django.utils.text import get_text_list

from farmbuild.common.templatetags.farm import day
from farmbuild.crew.models import Kind
from farmbuild.crew.people.words import days_words
from farmbuild.crew.schedule.basis import Basis
from farmbuild.measure import count_noun, format_count, format_minutes


def changes(before: Basis, now: Basis) -> list[str]:
    """People first, then hours, roads, benders, materials and the tasks themselves; nothing where nothing changed."""
    parts: tuple[Callable[[Basis, Basis], Iterator[str]], ...] = (
        _days_off, _people, _crews, _hours, _travel, _lent, _benders, _materials, _houses, _steps, _tasks,
    )  # fmt: skip
    return list(dict.fromkeys(sentence for part in parts for sentence in part(before, now)))


def _differ(before: Basis, now: Basis, part: str) -> Iterator[tuple[str, Any, Any]]:
    """Key, row before and row now, either None."""
    old, new = before.get(part, {}), now.get(part, {})
    for key in sorted(old.keys() | new.keys(), key=lambda key: (len(key), key)):
        if old.get(key) != new.get(key):
            yield key, old.get(key), new.get(key)


def _name(before: Basis, now: Basis, part: str, key: Any, fallback: str) -> str:
    row = now.get(part, {}).get(str(key)) or before.get(part, {}).get(str(key))
    return row[0] if row else fallback


def _days(first: str, last: str) -> str:
    return days_words(date.fromisoformat(first), date.fromisoformat(last))


def _days_off(before: Basis, now: Basis) -> Iterator[str]:
    for _, old, new in _differ(before, now, "days_off"):
        if old and new and old[0] == new[0]:
            yield f"{_who(new)} off {_days(*new[2:])}, not {_days(*old[2:])}.{_fewer(before, now, new)}"
            continue
        if old:
            yield f"{_who(old)} not off {_days(*old[2:])} any more."
        if new:
            yield f"{_who(new)} off {_days(*new[2:])}.{_fewer(before, now, new)}"


def _who(row: list[Any]) -> str:
    return "Everybody is" if row[0] is None else f"{row[1]} is"


def _fewer(before: Basis, now: Basis, row: list[Any]) -> str:
    person = now["people"].get(str(row[0]))
    if person is None or person[1] is None:
        return ""
    return f" {_name(before, now, 'crews', person[1], 'The crew')} has one fewer then."


def _people(before: Basis, now: Basis) -> Iterator[str]:
    for _, old, new in _differ(before, now, "people"):
        if old and not new:
            yield f"{old[0]} has left{_of(before, now, old[1])}."
        elif new and not old:
            if new[1] is not None:
                yield f"{new[0]} is new{_of(before, now, new[1])}."
        elif old[1] != new[1]:
            where = _name(before, now, "crews", new[1], "a crew") if new[1] is not None else "no crew"
            was = _name(before, now, "crews", old[1], "a crew") if old[1] is not None else "none"
            yield f"{new[0]} is in {where} now, was in {was}."
        if old and new:
            if gone := [skill for skill in old[2] if skill not in new[2]]:
                yield f"{new[0]} does not have the skill {get_text_list(gone, 'and')} any more."
            if more := [skill for skill in new[2] if skill not in old[2]]:
                yield f"{new[0]} has the skill {get_text_list(more, 'and')} now."


def _of(before: Basis, now: Basis, crew: int | None) -> str:
    return "" if crew is None else f" in {_name(before, now, 'crews', crew, 'a crew')}"


def _crews(before: Basis, now: Basis) -> Iterator[str]:
    for _, old, new in _differ(before, now, "crews"):
        if old and not new:
            yield f"The crew {old[0]} is closed."
        elif new and not old:
            yield f"The crew {new[0]} is new."
        elif old[1] != new[1]:
            yield f"{new[0]} works by the hours {_name(before, now, 'weeks', new[1], 'of another week')} now."


def _hours(before: Basis, now: Basis) -> Iterator[str]:
    if before["settings"][""][0] != now["settings"][""][0]:
        yield f"Hours are by the clock of {now['settings'][''][0]} now, not of {before['settings'][''][0]}."
    for key, old, new in _differ(before, now, "weeks"):
        crews = [crew[0] for crew in now["crews"].values() if str(crew[1]) == key]
        if old and new and old[1] != new[1] and crews:
            yield f"The working hours {new[0]} of {get_text_list(crews, 'and')} changed."


def _travel(before: Basis, now: Basis) -> Iterator[str]:
    old_else, new_else = before["settings"][""][1], now["settings"][""][1]
    if old_else != new_else:
        yield (
            f"Between sites without a travel time of their own it takes {format_minutes(new_else)} now,"
            f" not {format_minutes(old_else)}."
        )
    for _, old, new in _differ(before, now, "travel"):
        one, other, minutes = new or old
        if new and old:
            yield f"From {one} to {other} it takes {format_minutes(minutes)} now, not {format_minutes(old[2])}."
        else:
            yield f"From {one} to {other} it takes {format_minutes(minutes if new else new_else)} now."


def _lent(before: Basis, now: Basis) -> Iterator[str]:
    for _, old, new in _differ(before, now, "lent"):
        if new:
            was = f", was {_days(*old[3:])}" if old and old[0] == new[0] else ""
            yield f"{new[1]} is lent to {new[2]} {_days(*new[3:])}{was}."
        if old and (not new or old[0] != new[0]):
            yield f"{old[1]} is not lent to {old[2]} {_days(*old[3:])} any more."


def _benders(before: Basis, now: Basis) -> Iterator[str]:
    for _, old, new in _differ(before, now, "benders"):
        if old and not new:
            yield f"{old[0]} is not in use any more."
        elif new and not old:
            yield f"{new[0]} is new."
        elif old[1:] != new[1:]:
            yield f"{new[0]} bends another radius or other tubes than before."


def _materials(before: Basis, now: Basis) -> Iterator[str]:
    for house, old, new in _differ(before, now, "materials"):
        if house not in now["houses"] or house not in before["houses"]:
            continue
        kinds: dict[tuple[str | None, str | None], list[str]] = defaultdict(list)
        for kind in Kind.values:
            days = ((new or {}).get(kind), (old or {}).get(kind))
            if days[0] != days[1]:
                kinds[days].append(Kind(kind).label.lower())
        for (to, was), names in kinds.items():
            where = f"on site on {_date(to)} now" if to else "in the yard now"
            past = f", not on {_date(was)}" if was else ""
            yield f"Materials of {now['houses'][house][0]} for {get_text_list(names, 'and')} are {where}{past}."


def _houses(before: Basis, now: Basis) -> Iterator[str]:
    for _, old, new in _differ(before, now, "houses"):
        if old and new:
            if old[3] != new[3]:
                due = f"stand by {_date(new[3])}" if new[3] else "stand by no day in particular"
                yield f"{new[0]} is to {due} now."
            if old[2] != new[2]:
                yield f"{new[0]} is built by other steps of work now."
            if old[1] != new[1]:
                yield f"{new[0]} stands at {new[1]} now, not at {old[1]}."
            if old[4] != new[4]:
                yield f"The hoops of {new[0]} are made otherwise now."


def _steps(before: Basis, now: Basis) -> Iterator[str]:
    for key, old, new in _differ(before, now, "steps"):
        used = any(str(house[2]) == key for house in now["houses"].values())
        if old and new and used and old[1:] != new[1:]:
            yield f"The steps {new[0]} changed: a skill, or what waits for what."


def _tasks(before: Basis, now: Basis) -> Iterator[str]:
    more = fewer = 0
    for _, old, new in _differ(before, now, "tasks"):
        if old is None or new is None:
            more, fewer = more + (old is None), fewer + (new is None)
            continue
        name = f"{Kind(new[1]).label} of {_name(before, now, 'houses', new[0], 'a house')}"
        if old[2:4] != new[2:4]:
            yield (
                f"{name} takes {count_noun(new[2], 'person', 'people')} and {format_minutes(new[3])} now,"
                f" not {old[2]} and {format_minutes(old[3])}."
            )
        if old[4] != new[4]:
            yield f"{name} starts on {_date(new[4])} at the earliest." if new[4] else f"{name} may start any day again."
        if old[5] != new[5]:
            yield f"{name} {'stays where it is now' if new[5] else 'may move again'}."
    if more:
        yield f"{format_count(more)} task{' is' if more == 1 else 's are'} new and not in this schedule."
    if fewer:
        yield f"{format_count(fewer)} task{' is' if fewer == 1 else 's are'} not to be done any more."


def _date(value: str) -> str:
    return day(date.fromisoformat(value))
