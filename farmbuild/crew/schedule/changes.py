"""What has changed between two looks at what a schedule rests on (see ``seen``), in sentences."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator
from datetime import date
from typing import Any

from django.utils.translation import gettext, ngettext

from farmbuild.common.speaking import said_list
from farmbuild.common.templatetags.farm import day
from farmbuild.crew.models import Kind
from farmbuild.crew.people.words import days_words
from farmbuild.crew.schedule.basis import Basis
from farmbuild.measure import format_count, format_minutes


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
            words = gettext("%(who)s is off %(days)s, not %(before)s.")
            yield words % {"who": _who(new), "days": _days(*new[2:]), "before": _days(*old[2:])} + _fewer(
                before, now, new
            )
            continue
        if old:
            yield gettext("%(who)s is not off %(days)s any more.") % {"who": _who(old), "days": _days(*old[2:])}
        if new:
            words = gettext("%(who)s is off %(days)s.") % {"who": _who(new), "days": _days(*new[2:])}
            yield words + _fewer(before, now, new)


def _who(row: list[Any]) -> str:
    return gettext("Everybody") if row[0] is None else row[1]


def _fewer(before: Basis, now: Basis, row: list[Any]) -> str:
    person = now["people"].get(str(row[0]))
    if person is None or person[1] is None:
        return ""
    crew = _name(before, now, "crews", person[1], gettext("The crew"))
    return " " + gettext("%(crew)s has one fewer then.") % {"crew": crew}


def _people(before: Basis, now: Basis) -> Iterator[str]:
    for _, old, new in _differ(before, now, "people"):
        if old and not new:
            crew = "" if old[1] is None else _name(before, now, "crews", old[1], gettext("a crew"))
            words = gettext("%(who)s has left in %(crew)s.") if crew else gettext("%(who)s has left.")
            yield words % {"who": old[0], "crew": crew}
        elif new and not old:
            if new[1] is not None:
                words = gettext("%(who)s is new in %(crew)s.")
                yield words % {"who": new[0], "crew": _name(before, now, "crews", new[1], gettext("a crew"))}
        elif old[1] != new[1]:
            where, was = (
                _name(before, now, "crews", row[1], gettext("a crew")) if row[1] is not None else gettext("no crew")
                for row in (new, old)
            )
            yield gettext("%(who)s is in %(where)s now, was in %(was)s.") % {"who": new[0], "where": where, "was": was}
        if old and new:
            if gone := [skill for skill in old[2] if skill not in new[2]]:
                words = gettext("%(who)s does not have the skill %(skills)s any more.")
                yield words % {"who": new[0], "skills": said_list(gone)}
            if more := [skill for skill in new[2] if skill not in old[2]]:
                yield gettext("%(who)s has the skill %(skills)s now.") % {"who": new[0], "skills": said_list(more)}


def _crews(before: Basis, now: Basis) -> Iterator[str]:
    for _, old, new in _differ(before, now, "crews"):
        if old and not new:
            yield gettext("The crew %(old)s is closed.") % {"old": old[0]}
        elif new and not old:
            yield gettext("The crew %(new)s is new.") % {"new": new[0]}
        elif old[1] != new[1]:
            week = _name(before, now, "weeks", new[1], gettext("of another week"))
            yield gettext("%(crew)s works by the hours %(week)s now.") % {"crew": new[0], "week": week}


def _hours(before: Basis, now: Basis) -> Iterator[str]:
    if before["settings"][""][0] != now["settings"][""][0]:
        yield gettext("Hours are by the clock of %(now)s now, not of %(before)s.") % {
            "now": now["settings"][""][0],
            "before": before["settings"][""][0],
        }
    for key, old, new in _differ(before, now, "weeks"):
        crews = [crew[0] for crew in now["crews"].values() if str(crew[1]) == key]
        if old and new and old[1] != new[1] and crews:
            words = gettext("The working hours %(week)s of %(crews)s changed.")
            yield words % {"week": new[0], "crews": said_list(crews)}


def _travel(before: Basis, now: Basis) -> Iterator[str]:
    old_else, new_else = before["settings"][""][1], now["settings"][""][1]
    if old_else != new_else:
        yield (
            gettext("Between sites without a travel time of their own it takes %(new_else)s now, not %(old_else)s.")
            % {"new_else": format_minutes(new_else), "old_else": format_minutes(old_else)}
        )
    for _, old, new in _differ(before, now, "travel"):
        one, other, minutes = new or old
        if new and old:
            # Else a site has another name.
            if minutes != old[2]:
                yield gettext("From %(one)s to %(other)s it takes %(minutes)s now, not %(old)s.") % {
                    "one": one,
                    "other": other,
                    "minutes": format_minutes(minutes),
                    "old": format_minutes(old[2]),
                }
        else:
            yield gettext("From %(one)s to %(other)s it takes %(minutes)s now.") % {
                "one": one,
                "other": other,
                "minutes": format_minutes(minutes if new else new_else),
            }


def _lent(before: Basis, now: Basis) -> Iterator[str]:
    for _, old, new in _differ(before, now, "lent"):
        if new:
            words = gettext("%(bender)s is lent to %(member)s %(days)s.")
            if old and old[0] == new[0]:
                words = gettext("%(bender)s is lent to %(member)s %(days)s, was %(before)s.")
            was = _days(*old[3:]) if old else ""
            yield words % {"bender": new[1], "member": new[2], "days": _days(*new[3:]), "before": was}
        if old and (not new or old[0] != new[0]):
            words = gettext("%(bender)s is not lent to %(member)s %(days)s any more.")
            yield words % {"bender": old[1], "member": old[2], "days": _days(*old[3:])}


def _benders(before: Basis, now: Basis) -> Iterator[str]:
    for _, old, new in _differ(before, now, "benders"):
        if old and not new:
            yield gettext("%(old)s is not in use any more.") % {"old": old[0]}
        elif new and not old:
            yield gettext("%(new)s is new.") % {"new": new[0]}
        elif old[1:] != new[1:]:
            yield gettext("%(new)s bends another radius or other tubes than before.") % {"new": new[0]}


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
            if to and was:
                words = gettext("Materials of %(house)s for %(work)s are on site on %(day)s now, not on %(was)s.")
            elif to:
                words = gettext("Materials of %(house)s for %(work)s are on site on %(day)s now.")
            else:
                words = gettext("Materials of %(house)s for %(work)s are in the yard now, not on %(was)s.")
            yield words % {
                "house": now["houses"][house][0],
                "work": said_list(names),
                "day": _date(to) if to else "",
                "was": _date(was) if was else "",
            }


def _houses(before: Basis, now: Basis) -> Iterator[str]:
    for _, old, new in _differ(before, now, "houses"):
        if old and new:
            if old[3] != new[3]:
                words = gettext("%(house)s is to stand by %(day)s now.")
                if not new[3]:
                    words = gettext("%(house)s is to stand by no day in particular now.")
                yield words % {"house": new[0], "day": _date(new[3]) if new[3] else ""}
            if old[2] != new[2]:
                yield gettext("%(new)s is built by other steps of work now.") % {"new": new[0]}
            # One kept before sites had their keys in it is told by their names.
            if old[5] != new[5] if len(old) > 5 else old[1] != new[1]:
                words = gettext("%(house)s stands at %(site)s now, not at %(before)s.")
                yield words % {"house": new[0], "site": new[1], "before": old[1]}
            if old[4] != new[4]:
                yield gettext("The hoops of %(new)s are made otherwise now.") % {"new": new[0]}


def _steps(before: Basis, now: Basis) -> Iterator[str]:
    for key, old, new in _differ(before, now, "steps"):
        used = any(str(house[2]) == key for house in now["houses"].values())
        if old and new and used and old[1:] != new[1:]:
            yield gettext("The steps %(new)s changed: a skill, or what waits for what.") % {"new": new[0]}


def _tasks(before: Basis, now: Basis) -> Iterator[str]:
    more = fewer = 0
    for _, old, new in _differ(before, now, "tasks"):
        if old is None or new is None:
            more, fewer = more + (old is None), fewer + (new is None)
            continue
        house = _name(before, now, "houses", new[0], gettext("a house"))
        name = gettext("%(work)s of %(house)s") % {"work": Kind(new[1]).label, "house": house}
        if old[2:4] != new[2:4]:
            words = ngettext(
                "%(task)s takes %(people)s person and %(time)s now, not %(before)s and %(time_before)s.",
                "%(task)s takes %(people)s people and %(time)s now, not %(before)s and %(time_before)s.",
                new[2],
            )
            yield words % {
                "task": name,
                "people": new[2],
                "time": format_minutes(new[3]),
                "before": old[2],
                "time_before": format_minutes(old[3]),
            }
        if old[4] != new[4]:
            yield (
                gettext("%(name)s starts on %(new)s at the earliest.") % {"name": name, "new": _date(new[4])}
                if new[4]
                else gettext("%(name)s may start any day again.") % {"name": name}
            )
        if old[5] != new[5]:
            stays = gettext("%(task)s stays where it is now.") if new[5] else gettext("%(task)s may move again.")
            yield stays % {"task": name}
    if more:
        words = ngettext(
            "%(count)s task is new and not in this schedule.", "%(count)s tasks are new and not in this schedule.", more
        )
        yield words % {"count": format_count(more)}
    if fewer:
        words = ngettext(
            "%(count)s task is not to be done any more.", "%(count)s tasks are not to be done any more.", fewer
        )
        yield words % {"count": format_count(fewer)}


def _date(value: str) -> str:
    return day(date.fromisoformat(value))
