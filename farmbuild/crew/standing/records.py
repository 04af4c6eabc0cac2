"""What is recorded at houses: posts, hoops bent and set, film. Nothing is taken from what is only planned."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from django.utils.translation import gettext

from farmbuild.crew.bridge import task_unit
from farmbuild.crew.models import Kind, Task
from farmbuild.crew.standing.blocks import blocks_of
from farmbuild.hoops.batches.selectors import HouseHoops, hoops_for
from farmbuild.measure import format_count
from farmbuild.orgs.models import Organisation
from farmbuild.sites.models import House
from farmbuild.sites.yard.standing import Block, Share, Standing


def standings(*, organisation: Organisation, houses: Sequence[House]) -> dict[int, Standing]:
    """By the key of the house; as few queries for many houses as for one."""
    keys = [house.pk for house in houses]
    tasks: defaultdict[int, list[Task]] = defaultdict(list)
    for task in Task.objects.of(organisation).filter(house__in=keys).order_by("house", "position", "pk"):
        tasks[task.house_id].append(task)
    hoops = hoops_for(houses=keys)
    blocks = blocks_of(organisation=organisation, houses=houses, tasks=tasks, hoops=hoops)
    return {pk: _standing(tasks[pk], hoops.get(pk), blocks.get(pk)) for pk in keys}


def _standing(tasks: Sequence[Task], bent: HouseHoops | None, block: Block | None) -> Standing:
    by_kind = {Kind(task.kind): task for task in tasks}
    posts, hoops, film = (_share(by_kind.get(kind)) for kind in (Kind.POSTS, Kind.SET, Kind.FILM))
    in_batches = Share(bent.bent, bent.wanted) if bent else Share()
    done = bool(tasks) and all(task.state == Task.State.DONE for task in tasks)
    unit = task_unit(by_kind[Kind.FILM]) if film.of else ("", "")
    said = [
        _said(posts, ("post", "posts"), gettext("all %(many)s in"), gettext("%(done)s of %(many)s in")),
        _said(in_batches, ("hoop", "hoops"), gettext("all %(many)s bent"), gettext("%(done)s of %(many)s bent")),
        _said(hoops, ("hoop", "hoops"), gettext("all %(many)s set"), gettext("%(done)s of %(many)s set")),
        _said(film, unit, gettext("all %(many)s on"), gettext("%(done)s of %(many)s on")),
    ]
    begun = [words for words, share in zip(said, (posts, in_batches, hoops, film), strict=True) if share.done]
    state = begun[-1] if begun else _last_step(tasks)
    if film.whole:
        state = gettext("finished") if done else gettext("covered")
    return Standing(posts, hoops, film, state, ", ".join(words for words in said if words), done, block)


def _last_step(tasks: Sequence[Task]) -> str:
    """Of a house where nothing is recorded that is drawn."""
    last = next((task for task in reversed(tasks) if task.state != Task.State.OPEN), None)
    if last is None:
        return ""
    words = gettext("%(step)s done") if last.state == Task.State.DONE else gettext("%(step)s under way")
    return words % {"step": last.get_kind_display().lower()}


def _share(task: Task | None) -> Share:
    if task is None:
        return Share()
    # Whoever says that it is done need not have counted.
    return Share(task.count if task.state == Task.State.DONE else min(task.done, task.count), task.count)


def _said(share: Share, nouns: tuple[str, str], whole: str, part: str) -> str:
    """7 of 13 hoops set."""
    if not share.of:
        return ""
    many = f"{format_count(share.of)} {gettext(nouns[share.of != 1])}"
    return (whole if share.whole else part) % {"done": format_count(share.done), "many": many}
