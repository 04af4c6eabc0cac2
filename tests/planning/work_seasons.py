"""Building seasons made up for tests: invented sites, crews and hours."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass

from farmbuild.planning.scheduling.inputs import After, Need, Resource, Resources, Task, Way, Window

#: Slots are quarter hours from Monday, 0:00.
DAY = 96
WEEK = 7 * DAY
#: Crew sizes; the last two are large enough for film.
CREWS = (2, 2, 3, 3, 4, 5)
SITES = ("North field", "South field", "River farm", "Hill farm", "Old orchard", "Market garden")
YARD = "Yard"


@dataclass(frozen=True)
class Step:
    """``work`` in slots of one person; ``people`` at least; ``most`` people who do not get in each other's way."""

    name: str
    work: int
    people: int
    most: int
    lag: int = 0
    pauses: bool = True
    at_yard: bool = False
    bender: bool = False


#: Common practice, no source: the order of the work; the amounts are invented.
CHAIN = (
    Step("survey", 8, 1, 2),
    Step("posts", 60, 2, 4),
    Step("mark", 8, 1, 2, at_yard=True),
    Step("trial hoop", 8, 2, 2, at_yard=True, bender=True),
    Step("bend", 50, 2, 3, at_yard=True, bender=True),
    Step("join", 24, 2, 3),
    Step("set", 48, 3, 5),
    Step("sight", 8, 2, 2),
    Step("boards", 40, 2, 4),
    Step("ends", 60, 2, 4),
    Step("film", 40, 4, 5, lag=DAY, pauses=False),
    Step("anchors", 24, 1, 3),
)


def season(
    houses: int = 40,
    seed: int = 1,
    *,
    crews: tuple[int, ...] = CREWS,
    benders: int = 3,
    weeks: int = 60,
    slack: float = 1.3,
    spread: float = 0.9,
) -> tuple[list[Task], Resources]:
    """``slack``: the season is so many times as long as all work takes all crews.

    Sites come ready over the first ``spread`` of it; houses are due well before or at its end.
    """
    chance = random.Random(seed)
    people = {f"Crew {k}": size for k, size in enumerate(crews, 1)}
    resources = [
        Resource(ref, size, tuple(_hours(size, weeks, chance, start=28 if k % 2 else 30)), travels=True)
        for k, (ref, size) in enumerate(people.items())
    ]
    resources += [Resource(f"Bender {k}", 1) for k in range(1, benders + 1)]
    places = (YARD, *SITES)
    travel = {(a, b): chance.randint(1, 5) for k, a in enumerate(places) for b in places[k + 1 :]}
    days = slack * houses * sum(step.work for step in CHAIN) / (0.75 * sum(crews)) / 34
    tasks: list[Task] = []
    for house in range(1, houses + 1):
        site = chance.choice(SITES)
        size = chance.uniform(0.6, 1.5)
        bender = f"Bender {chance.randint(1, benders)}"
        release = int(chance.uniform(0, spread) * days * 7 / 5) * DAY
        due = release + int(chance.uniform(0.45, 1.0) * days * 7 / 5 + 10) * DAY
        before = ""
        for step in CHAIN:
            ref = f"House {house}: {step.name}"
            work = step.work * size * chance.uniform(0.9, 1.1)
            ways = []
            for crew, head_count in people.items():
                if head_count >= step.people:
                    needs = [Need(crew, step.people)]
                    if step.bender:
                        needs.append(Need(bender))
                    ways.append(Way(tuple(needs), max(1, round(work / min(head_count, step.most)))))
            tasks.append(
                Task(
                    ref,
                    tuple(ways),
                    (After(before, step.lag),) if before else (),
                    release if not before else 0,
                    due,
                    f"House {house}",
                    YARD if step.at_yard else site,
                    step.pauses,
                )
            )
            before = ref
    return tasks, Resources(tuple(resources), travel, 2)


def _hours(size: int, weeks: int, chance: random.Random, start: int) -> Iterator[Window]:
    """Five days a week, half an hour for lunch; now and then a day off, and on Fridays one person fewer."""
    for day in range(7 * weeks):
        if day % 7 >= 5 or chance.random() < 0.02:
            continue
        there = size - 1 if day % 7 == 4 and size > 2 else size
        at = day * DAY + start
        yield Window(at, at + 18, there)
        yield Window(at + 20, at + 36, there)
