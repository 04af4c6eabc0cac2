"""An invented season: farms ask week by week for benders, and what is proposed is had. Drawn by a seed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

from farmbuild.planning.sharing.plan import Request, Rules, Standing, Taken, share

START = date(2027, 1, 4)
BENDERS = {"w": "West bender", "e": "East bender", "n": "North bender"}


@dataclass(frozen=True)
class Farm:
    """It asks for ``wishes`` stretches of ``days`` a week, on any bender."""

    key: str
    share: int
    wishes: int
    days: tuple[int, ...]


def farms(count: int = 12) -> list[Farm]:
    """Four ask for a day or two and often, eight for more at a time; two have two shares. For more than there is."""
    kinds = [(2, (1, 2)), (1, (2, 3)), (1, (3, 4))]
    return [
        Farm(f"m{at}", share=2 if at in (1, 2) else 1, wishes=kinds[at % 3][0], days=kinds[at % 3][1])
        for at in range(count)
    ]


def season(
    random: Random, asking: list[Farm], *, weeks: int = 26, rules: Rules | None = None
) -> tuple[dict[str, int], dict[str, list[Taken]]]:
    """By farm, the days that it asked for, and every span that it had. Each week all ask for days of that week, and
    nothing is carried over."""
    had: dict[str, list[Taken]] = {farm.key: [] for farm in asking}
    days_asked = dict.fromkeys(had, 0)
    asked = 0
    for week in range(weeks):
        today = START + timedelta(weeks=week)
        requests = []
        for farm in asking:
            for _ in range(farm.wishes):
                asked += 1
                first = today + timedelta(days=random.randint(0, 1))
                back = today + timedelta(days=random.randint(5, 6))
                fits = tuple(random.sample(sorted(BENDERS), 3))
                days = random.choice(farm.days)
                days_asked[farm.key] += days
                requests.append(Request(str(asked), farm.key, days, first, back, fits, asked))
        standing = {
            farm.key: Standing(
                f"Farm {farm.key}",
                share=farm.share,
                days=sum((row.last - row.first).days + 1 for row in had[farm.key]),
                until=max((row.last for row in had[farm.key]), default=None),
            )
            for farm in asking
        }
        for row in share(requests, BENDERS, [], today, standing, rules).given:
            had[row.request.member].append(Taken(row.bender, row.first, row.last, row.request.member))
    return days_asked, had
