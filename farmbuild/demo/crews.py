"""The invented crews: who is in them, when they work, and how far it is between the sites."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, time
from typing import Any

from farmbuild.crew.people.calendar_services import Hours, add_days_off, save_week, set_travel
from farmbuild.crew.people.services import create_crew, create_person, save_settings, save_skill
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import Site

_DAYS = {"monday to friday": range(5), "saturday": [5]}


def enter_crews(organisation: Organisation, user: User, sites: Mapping[str, Site], rows: Mapping[str, Any]) -> None:
    given: dict[str, Any] = {"organisation": organisation, "user": user}
    save_settings(**given, data={"travel_minutes": rows["travel_minutes"]})
    hours = [
        Hours(day, time.fromisoformat(starts), time.fromisoformat(ends))
        for name, days in _DAYS.items()
        for day in days
        for starts, ends in rows["week"][name]
    ]
    week = save_week(**given, name=rows["week"]["name"], hours=hours)
    skills = {name: save_skill(**given, name=name) for name in rows["skills"]}
    people = {}
    for row in rows["crews"]:
        crew = create_crew(**given, data={"name": row["name"], "week": week})
        for person in row["people"]:
            people[person["name"]] = create_person(
                **given,
                data={
                    "name": person["name"],
                    "crew": crew,
                    "skills": [skills[name] for name in person["skills"]],
                    "user": user if person.get("username") == user.username else None,
                },
            )
    for row in rows["days_off"]:
        add_days_off(
            **given,
            person=people.get(row["person"]),
            first=date.fromisoformat(row["first"]),
            last=date.fromisoformat(row["last"]),
            reason=row["reason"],
        )
    minutes = {(sites[row["one"]], sites[row["other"]]): row["minutes"] for row in rows["travel"]}
    set_travel(**given, minutes=minutes)
