"""Each sentence of what changed since a schedule, from two hand-written looks at what it rests on. No database."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from farmbuild.crew.schedule.changes import changes

BEFORE = {
    "settings": {"": ["UTC", 30]},
    "weeks": {"1": ["Five days", [[0, "07:00:00", "15:00:00"]]], "2": ["Unused", []]},
    "crews": {"1": ["South", 1], "2": ["North", 1]},
    "people": {"1": ["Ana", 1, ["bending", "ladder work"]], "2": ["Ben", 2, []], "3": ["Cleo", None, []]},
    "days_off": {"1": [1, "Ana", "2027-05-04", "2027-05-04"], "2": [None, None, "2027-05-06", "2027-05-07"]},
    "travel": {"1": ["Creek", "Hill", 15]},
    "benders": {"1": ["Rail bender", "1930.4", [1]]},
    "lent": {"1": [1, "Rail bender", "Next farm", "2027-05-10", "2027-05-12"]},
    "steps": {"1": ["Plain", [["posts", None]], []], "2": ["Other", [], []]},
    "houses": {
        "1": ["North 1", "Hill", 1, "2027-05-20", [1, "1930.4", 1, None], 7],
        # Kept before sites had their keys in it.
        "2": ["Low 1", "Mill", 1, None, [1, "1930.4", 1, None]],
    },
    "materials": {"1": {"posts": "2027-05-03", "set": "2027-05-03"}},
    "tasks": {"1": [1, "posts", 2, 240, None, False], "2": [1, "set", 2, 60, None, False]},
}


def told(**changed: dict[str, Any]) -> list[str]:
    """Where rows by their keys are otherwise; None takes a row out."""
    now = deepcopy(BEFORE)
    for part, rows in changed.items():
        for key, row in rows.items():
            if row is None:
                del now[part][key]
            else:
                now[part][key] = row
    return changes(deepcopy(BEFORE), now)


def test_nothing_changed_is_nothing_told():
    assert told() == []


@pytest.mark.parametrize(
    ("changed", "sentences"),
    [
        # Days off: moved, gone, new; of a person, of everybody, of someone in no crew.
        (
            {"days_off": {"1": [1, "Ana", "2027-05-05", "2027-05-06"]}},
            ["Ana is off 5 May 2027 to 6 May 2027, not 4 May 2027. South has one fewer then."],
        ),
        ({"days_off": {"1": None}}, ["Ana is not off 4 May 2027 any more."]),
        ({"days_off": {"2": None}}, ["Everybody is not off 6 May 2027 to 7 May 2027 any more."]),
        ({"days_off": {"3": [None, None, "2027-05-09", "2027-05-09"]}}, ["Everybody is off 9 May 2027."]),
        ({"days_off": {"3": [3, "Cleo", "2027-05-09", "2027-05-09"]}}, ["Cleo is off 9 May 2027."]),
        (
            {"days_off": {"1": [2, "Ben", "2027-05-04", "2027-05-04"]}},
            ["Ana is not off 4 May 2027 any more.", "Ben is off 4 May 2027. North has one fewer then."],
        ),
        # People.
        ({"people": {"2": None}}, ["Ben has left in North."]),
        ({"people": {"3": None}}, ["Cleo has left."]),
        ({"people": {"4": ["Dov", 1, []]}}, ["Dov is new in South."]),
        ({"people": {"4": ["Dov", None, []]}}, []),
        ({"people": {"2": ["Ben", 1, []]}}, ["Ben is in South now, was in North."]),
        ({"people": {"2": ["Ben", None, []]}}, ["Ben is in no crew now, was in North."]),
        ({"people": {"3": ["Cleo", 2, []]}}, ["Cleo is in North now, was in no crew."]),
        (
            {"people": {"1": ["Ana", 1, ["sawing"]]}},
            [
                "Ana does not have the skill bending and ladder work any more.",
                "Ana has the skill sawing now.",
            ],
        ),
        (
            {"people": {"1": ["Ana", 1, ["ladder work", "sawing"]]}},
            ["Ana does not have the skill bending any more.", "Ana has the skill sawing now."],
        ),
        # Crews, hours and roads.
        ({"crews": {"2": None}}, ["The crew North is closed."]),
        ({"crews": {"3": ["West", 1]}}, ["The crew West is new."]),
        ({"crews": {"2": ["North", 2]}}, ["North works by the hours Unused now."]),
        ({"crews": {"2": ["Far North", 1]}}, []),
        ({"weeks": {"1": ["Five days", []]}}, ["The working hours Five days of South and North changed."]),
        ({"weeks": {"1": ["Renamed", [[0, "07:00:00", "15:00:00"]]]}}, []),
        ({"weeks": {"2": ["Unused", [[1, "07:00:00", "15:00:00"]]]}}, []),
        ({"settings": {"": ["Europe/Oslo", 30]}}, ["Hours are by the clock of Europe/Oslo now, not of UTC."]),
        (
            {"settings": {"": ["UTC", 45]}},
            ["Between sites without a travel time of their own it takes 45 min now, not 30 min."],
        ),
        ({"travel": {"1": ["Creek", "Hill", 20]}}, ["From Creek to Hill it takes 20 min now, not 15 min."]),
        ({"travel": {"1": ["Brook", "Hill", 15]}}, []),
        ({"travel": {"1": None}}, ["From Creek to Hill it takes 30 min now."]),
        ({"travel": {"2": ["Hill", "Mill", 60]}}, ["From Hill to Mill it takes 1 h now."]),
        # Benders.
        (
            {"lent": {"1": [1, "Rail bender", "Next farm", "2027-05-10", "2027-05-14"]}},
            ["Rail bender is lent to Next farm 10 May 2027 to 14 May 2027, was 10 May 2027 to 12 May 2027."],
        ),
        (
            {"lent": {"1": [2, "Other bender", "Next farm", "2027-05-10", "2027-05-12"]}},
            [
                "Other bender is lent to Next farm 10 May 2027 to 12 May 2027.",
                "Rail bender is not lent to Next farm 10 May 2027 to 12 May 2027 any more.",
            ],
        ),
        ({"lent": {"1": None}}, ["Rail bender is not lent to Next farm 10 May 2027 to 12 May 2027 any more."]),
        ({"benders": {"1": None}}, ["Rail bender is not in use any more."]),
        ({"benders": {"2": ["New bender", "1930.4", []]}}, ["New bender is new."]),
        (
            {"benders": {"1": ["Rail bender", "2000", [1]]}},
            ["Rail bender bends another radius or other tubes than before."],
        ),
        ({"benders": {"1": ["Old bender", "1930.4", [1]]}}, []),
        # Materials.
        (
            {"materials": {"1": {"posts": "2027-05-06", "set": "2027-05-06"}}},
            [
                "Materials of North 1 for ground posts and set and spring in are on site on 6 May 2027 now,"
                " not on 3 May 2027."
            ],
        ),
        (
            {"materials": {"1": {"set": "2027-05-03"}}},
            ["Materials of North 1 for ground posts are in the yard now, not on 3 May 2027."],
        ),
        (
            {"materials": {"1": None}},
            ["Materials of North 1 for ground posts and set and spring in are in the yard now, not on 3 May 2027."],
        ),
        (
            {"materials": {"1": {"posts": "2027-05-03", "set": "2027-05-03", "bend": "2027-05-04"}}},
            ["Materials of North 1 for bend the batch are on site on 4 May 2027 now."],
        ),
        ({"materials": {"9": {"posts": "2027-05-06"}}}, []),
        # Houses and steps.
        (
            {"houses": {"1": ["North 1", "Hill", 1, "2027-05-21", [1, "1930.4", 1, None], 7]}},
            ["North 1 is to stand by 21 May 2027 now."],
        ),
        (
            {"houses": {"1": ["North 1", "Hill", 1, None, [1, "1930.4", 1, None], 7]}},
            ["North 1 is to stand by no day in particular now."],
        ),
        (
            {"houses": {"1": ["North 1", "Creek", 2, "2027-05-20", [1, "2000", 1, None], 8]}},
            [
                "North 1 is built by other steps of work now.",
                "North 1 stands at Creek now, not at Hill.",
                "The hoops of North 1 are made otherwise now.",
            ],
        ),
        # A site of another name, and a house of another site.
        ({"houses": {"1": ["North 1", "Brook", 1, "2027-05-20", [1, "1930.4", 1, None], 7]}}, []),
        ({"houses": {"2": ["Low 1", "Mill", 1, None, [1, "1930.4", 1, None], 9]}}, []),
        (
            {"houses": {"2": ["Low 1", "Hill", 1, None, [1, "1930.4", 1, None], 7]}},
            ["Low 1 stands at Hill now, not at Mill."],
        ),
        ({"houses": {"3": ["North 2", "Hill", 1, None, [1, "1930.4", 1, None], 7]}}, []),
        (
            {"steps": {"1": ["Plain", [["posts", "bending"]], []]}},
            ["The steps Plain changed: a skill, or what waits for what."],
        ),
        (
            {
                "houses": {"3": ["North 2", "Hill", 2, None, [1, "1930.4", 1, None]]},
                "steps": {"1": ["Plain", [["posts", "bending"]], []]},
            },
            ["The steps Plain changed: a skill, or what waits for what."],
        ),
        ({"steps": {"1": ["Renamed", [["posts", None]], []]}}, []),
        ({"steps": {"2": ["Other", [["posts", None]], []]}}, []),
        # Tasks.
        (
            {"tasks": {"1": [1, "posts", 1, 240, None, False]}},
            ["Ground posts of North 1 takes 1 person and 4 h now, not 2 and 4 h."],
        ),
        (
            {"tasks": {"1": [1, "posts", 2, 300, None, False]}},
            ["Ground posts of North 1 takes 2 people and 5 h now, not 2 and 4 h."],
        ),
        (
            {"tasks": {"1": [1, "posts", 2, 240, "2027-05-06", True]}},
            [
                "Ground posts of North 1 starts on 6 May 2027 at the earliest.",
                "Ground posts of North 1 stays where it is now.",
            ],
        ),
        ({"tasks": {"2": None}}, ["1 task is not to be done any more."]),
        (
            {"tasks": {"3": [1, "bend", 2, 240, None, False], "4": [1, "trial", 2, 240, None, False]}},
            ["2 tasks are new and not in this schedule."],
        ),
    ],
)
def test_what_changed_is_told(changed, sentences):
    assert told(**changed) == sentences


def test_what_was_taken_back_is_told_the_other_way_round():
    now = deepcopy(BEFORE)
    now["tasks"]["1"] = [1, "posts", 2, 240, "2027-05-06", True]
    now["tasks"]["3"] = [1, "bend", 2, 240, None, False]
    assert changes(now, deepcopy(BEFORE)) == [
        "Ground posts of North 1 may start any day again.",
        "Ground posts of North 1 may move again.",
        "1 task is not to be done any more.",
    ]


def test_rows_stand_in_the_order_of_their_keys():
    more = {str(n): ["P" + str(n), 1, []] for n in (10, 9, 100)}
    assert told(people=more) == ["P9 is new in South.", "P10 is new in South.", "P100 is new in South."]
