"""What a season says of itself, looked through for two things that cannot both be true. It shares no code with what
enters the season: it reads rows, and the sums that pages show."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from itertools import combinations, pairwise
from typing import Any

from django.db.models import Q
from django.utils import timezone

from farmbuild.buying.models import PurchaseOrder, ReceiptLine
from farmbuild.coop.joint.handing import handing_of
from farmbuild.coop.joint.splitting import split_of
from farmbuild.coop.law import faults_of
from farmbuild.coop.models import CommonWish, Damage, JointOrder, PipeLoan
from farmbuild.crew.models import Actual, BenderBooking, DayOff, Kind, OtherWork, Schedule, Task, WorkStep
from farmbuild.crew.schedule.comparison import compare
from farmbuild.crew.steps.selectors import afters_of
from farmbuild.hoops.batches.models import BentHoops, HoopBatch, TrialHoop
from farmbuild.hoops.fits.models import HouseFit
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Organisation
from farmbuild.plans.balance import balances
from farmbuild.sites.models import House
from farmbuild.stock.models import Lot, Movement, Reservation

#: Plans hold one for each joint of the sticks that they buy; the take-off counts those of the longest that is sold.
JOINT_SCREW = "screw-12x3-4"
#: Parts that a covered house stands on, by what the take-off calls them.
IN_A_COVERED_HOUSE = {"hoops", "ground posts", "ridge purlins", "hip boards", "base boards", "film over the house"}


def contradictions(organisation: Organisation, only: str = "") -> list[str]:
    """``only``: the name of the one function that looks."""
    looks = (presses, steps, hoops, ridges, covered, ledger, receipts, orders, holds, bookings, schedule, accounts)
    return [
        f"{look.__name__}: {found}" for look in looks if only in ("", look.__name__) for found in look(organisation)
    ]


def _tasks(organisation: Organisation) -> dict[int, Task]:
    return {task.pk: task for task in Task.objects.of(organisation).select_related("house")}


def _times(organisation: Organisation) -> dict[int, tuple[datetime, datetime]]:
    """From the first press at a task to its last."""
    found: dict[int, list[datetime]] = defaultdict(list)
    for row in Actual.objects.of(organisation).net():
        found[row.task_id] += [at for at in (row.started_at, row.stopped_at) if at]
    return {task: (min(at), max(at)) for task, at in found.items()}


def presses(organisation: Organisation) -> Iterator[str]:
    """Within the hours of the crew, on no day off, not ahead of the clock, and one at a time."""
    zone, now = zone_of(organisation=organisation), timezone.now()
    runs = defaultdict(list)
    everybody = DayOff.objects.of(organisation)
    for row in Actual.objects.of(organisation).select_related("task", "person__crew__week", "crew__week"):
        for at in filter(None, (row.started_at, row.stopped_at, row.recorded_at)):
            there = at.astimezone(zone)
            spans = [(span.starts, span.ends) for span in row.crew.week.hours.filter(day=there.weekday())]
            if at > now:
                yield f"{row} is of {there}, which is to come"
            if not any(starts <= there.time() <= ends for starts, ends in spans):
                yield f"{row} is of {there:%A %H:%M}, when {row.crew} does not work"
            if everybody.filter(Q(person=None) | Q(person=row.person), first__lte=there, last__gte=there).exists():
                yield f"{row} is of a day off"
        if row.late:
            yield f"{row} goes past the day"
        asked = WorkStep.objects.filter(template__houses__house=row.task.house_id, kind=row.task.kind).first()
        if asked.skill and not row.crew.people.filter(skills=asked.skill).exists():
            yield f"{row} is by {row.crew}, which has no {asked.skill}"
        if row.started_at and row.stopped_at:
            runs[row.person_id].append((row.started_at, row.stopped_at, row.task))
    for work in OtherWork.objects.of(organisation).select_related("crew__week"):
        if work.day > today_of(organisation=organisation):
            yield f"{work} is of a day to come"
        if not work.crew.week.hours.filter(day=work.day.weekday()).exists():
            yield f"{work} is of a {work.day:%A}"
    if Actual.objects.of(organisation).running().exists():
        yield "somebody is at work over night"
    for rows in runs.values():
        for one, other in pairwise(sorted(rows, key=lambda run: run[:2])):
            if other[0] < one[1]:
                yield f"one person is at {one[2]} and at {other[2]}"


def steps(organisation: Organisation) -> Iterator[str]:
    """State and count of a task agree with what was pressed, and nothing is begun before what it waits for."""
    tasks, times = _tasks(organisation), _times(organisation)
    for task in tasks.values():
        begun, done = task.pk in times, task.state == Task.State.DONE
        if begun != (task.state != Task.State.OPEN):
            yield f"{task} is {task.state}, pressed: {begun}"
        if done != (task.done == task.count) and task.kind != Kind.TRIAL:
            yield f"{task} is {task.state} with {task.done} of {task.count}"
    for pk, before, _ in afters_of(organisation=organisation):
        if pk in times and (tasks[before].state != Task.State.DONE or times[pk][0] < times[before][1]):
            yield f"{tasks[pk]} is begun before {tasks[before]} is done"


def hoops(organisation: Organisation) -> Iterator[str]:
    """Trial hoops and batches are as far as the tasks of their houses."""
    times, states = _times(organisation), HoopBatch.State
    batches = {share.house_id: batch for batch in HoopBatch.objects.of(organisation) for share in batch.shares.all()}
    for task in _tasks(organisation).values():
        batch = batches.get(task.house_id)
        if task.kind == Kind.TRIAL and (task.state == Task.State.DONE) != bool(batch and batch.accepted_trial_id):
            yield f"{task} is {task.state}, its batch {batch and batch.state}"
        if task.kind == Kind.BEND and (task.state == Task.State.DONE) != bool(batch and batch.state == states.DONE):
            yield f"{task} is {task.state}, its batch {batch and batch.state}"
        if not batch or task.pk not in times:
            continue
        first, last = times[task.pk]
        if task.kind == Kind.TRIAL:
            measured = TrialHoop.objects.filter(batch=batch).values_list("at", flat=True)
            if not measured or not all(first <= at <= last for at in measured):
                yield f"trial hoops of {batch} were not measured while {task} was worked at"
        bent = BentHoops.objects.filter(batch=batch).exclude(note__startswith="Trial").values_list("at", flat=True)
        if task.kind == Kind.BEND and not all(first <= at <= last for at in bent):
            yield f"hoops of {batch} were not bent while {task} was worked at"
    for batch in HoopBatch.objects.of(organisation):
        if sum(row.hoops for row in BentHoops.objects.filter(batch=batch)) != batch.hoops_bent:
            yield f"{batch} does not have the hoops that were recorded"


def ridges(organisation: Organisation) -> Iterator[str]:
    """A ridge is sighted where the hoops are set, by those who are sighting it; whole where that is done."""
    times, tasks = _times(organisation), {(task.house_id, task.kind): task for task in _tasks(organisation).values()}
    for fit in HouseFit.objects.of(organisation).select_related("house"):
        hoops_set, sighting = tasks[fit.house_id, Kind.SET], tasks[fit.house_id, Kind.SIGHT]
        if hoops_set.state != Task.State.DONE or fit.at < times[hoops_set.pk][1]:
            yield f"{fit} was made before the hoops were set"
        if sighting.pk not in times or not times[sighting.pk][0] <= fit.at <= times[sighting.pk][1]:
            yield f"{fit} was not made while the ridge was sighted"
        if sighting.done != fit.readings.count():
            yield f"{fit} has {fit.readings.count()} readings, and {sighting.done} hoops are sighted"
    for (house, kind), task in tasks.items():
        if kind == Kind.SIGHT and task.state != Task.State.OPEN and not HouseFit.objects.filter(house=house).exists():
            yield f"{task} is {task.state} and nothing was measured"


def covered(organisation: Organisation) -> Iterator[str]:
    """A house with its film on has all its work behind it and all its materials in it."""
    for film in Task.objects.of(organisation).filter(kind=Kind.FILM, state=Task.State.DONE).select_related("house"):
        if (open_ := film.house.tasks.exclude(state=Task.State.DONE)).exists():
            yield f"{film.house} is covered and {list(open_)} are not done"
        found = balances(organisation=organisation, houses=[film.house])[film.house_id]
        rows = {row.purpose: row for row in found.rows}
        if missing := IN_A_COVERED_HOUSE - rows.keys():
            yield f"{film.house} is covered without {missing}"
        for row in rows.values():
            if row.in_house != row.needed or row.held or row.on_order:
                yield f"{film.house} is covered with {row.in_house} of {row.needed} of its {row.purpose}"


def ledger(organisation: Organisation) -> Iterator[str]:
    """Counts are the sums of movements, which come one after the other and never take what is not there."""
    now, sums, last = timezone.now(), Counter[int](), {}
    for row in Movement.objects.filter(lot__organisation=organisation).order_by("at", "pk").select_related("lot"):
        sums[row.lot_id] += row.quantity
        if sums[row.lot_id] < 0:
            yield f"{row.lot} goes below nothing on {row.at}"
        if row.at > now or (row.lot_id not in last and row.lot.received_on > row.at.date()):
            yield f"{row} is of {row.at}"
        last[row.lot_id] = row.at
    held: Counter[int] = Counter()
    for row in Reservation.objects.of(organisation).exclude(lot=None):
        held[row.lot_id] += row.quantity
    for lot in Lot.objects.of(organisation):
        if (lot.on_hand, lot.reserved) != (sums[lot.pk], held[lot.pk]) or lot.reserved > lot.on_hand:
            yield f"{lot} has {lot.on_hand}, {lot.reserved} held; the rows say {sums[lot.pk]} and {held[lot.pk]}"


def receipts(organisation: Organisation) -> Iterator[str]:
    """What came is what the ledger took in on that day, and what stands on the lines of orders."""
    zone, today = zone_of(organisation=organisation), today_of(organisation=organisation)
    came: Counter[int] = Counter()
    rows = ReceiptLine.objects.filter(receipt__organisation=organisation)
    for row in rows.select_related("receipt__order", "order_line", "lot"):
        came[row.order_line_id] += row.arrived
        taken = row.lot.movements.order_by("pk").first() if row.lot else None
        if (taken.quantity if taken else 0) != row.good:
            yield f"{row} brought {row.good}, and the ledger has {taken}"
        if taken and taken.at.astimezone(zone).date() != row.receipt.received_on:
            yield f"{row} is of {row.receipt.received_on}, its movement of {taken.at}"
        if not row.receipt.order.sent_on <= row.receipt.received_on <= today:
            yield f"{row} came on {row.receipt.received_on}"
    for order in PurchaseOrder.objects.of(organisation).prefetch_related("lines"):
        for line in order.lines.all():
            if line.arrived != came[line.pk]:
                yield f"{line} has {line.arrived} arrived, its receipts {came[line.pk]}"


def orders(organisation: Organisation) -> Iterator[str]:
    """The state of an order is that of its lines, and what is to come is due on a day to come."""
    today, states = today_of(organisation=organisation), PurchaseOrder.State
    for order in PurchaseOrder.objects.of(organisation).prefetch_related("lines"):
        lines = order.lines.all()
        arrived, to_come = any(line.arrived for line in lines), any(line.to_come for line in lines)
        said = {(False, True): states.SENT, (True, True): states.PART, (True, False): states.RECEIVED}
        if order.state != states.DRAFT and order.state != said[arrived, to_come]:
            yield f"{order} is {order.state}"
        if order.sent_on and order.sent_on > today:
            yield f"{order} is sent on {order.sent_on}"
        if order.plan_id and order.state == states.DRAFT:
            yield f"{order} of the plan is not sent"
        late = [line for line in lines if order.state != states.DRAFT and line.to_come and line.due_on < today]
        if late:
            yield f"{order} is overdue: {late}"


def holds(organisation: Organisation) -> Iterator[str]:
    """What a house needs is in it, held for it or on order for it: nothing is left to find, and nothing too much.

    Of houses with work planned; a plan of those of customers' jobs is only tried, and it holds nothing.
    """
    houses = list(House.objects.of(organisation).filter(tasks__isnull=False).distinct())
    for house, found in zip(houses, balances(organisation=organisation, houses=houses).values(), strict=True):
        for row in found.short:
            yield f"{house} has to find {row.to_find} of its {row.purpose}"
        for row in (*found.too_much, *found.held_too_much):
            if row.material != JOINT_SCREW:
                yield f"{house} has too much: {row}"


def bookings(organisation: Organisation) -> Iterator[str]:
    """A bender is with one farm at a time, and not on loan while it bends here."""
    zone, today = zone_of(organisation=organisation), today_of(organisation=organisation)
    states = BenderBooking.State
    taken: dict[int, list[tuple[date, date, str]]] = defaultdict(list)
    for row in BenderBooking.objects.of(organisation).exclude(state=states.CANCELLED):
        taken[row.bender_id].append((row.first, row.last, f"booking {row.pk}"))
        if row.state == states.OUT and not (row.first <= today <= row.last and row.out_at <= timezone.now()):
            yield f"{row} is out"
        if row.state == states.BACK and not row.first <= row.out_at.astimezone(zone).date() <= row.last < today:
            yield f"{row} is back"
        if row.state == states.BOOKED and row.first < today:
            yield f"{row} was not fetched"
    for task in (
        Task.objects.of(organisation).filter(bender__isnull=False, starts_at__isnull=False).exclude(state="done")
    ):
        days = (task.starts_at.astimezone(zone).date(), task.ends_at.astimezone(zone).date())
        taken[task.bender_id].append((*days, str(task)))
    for batch in HoopBatch.objects.of(organisation):
        at = [row.at for row in (*batch.trials.all(), *batch.bent.all())]
        if at:
            days = (min(at).astimezone(zone).date(), max(at).astimezone(zone).date())
            taken[batch.bender_id].append((*days, str(batch)))
    for rows in taken.values():
        for one, other in combinations(rows, 2):
            members = "booking" in one[2] + other[2]
            if members and one[0] <= other[1] and other[0] <= one[1]:
                yield f"one bender for {one[2]} and {other[2]}"


def schedule(organisation: Organisation) -> Iterator[str]:
    """What is published still fits, and there is work on this week and, on a day of work, today."""
    zone, today = zone_of(organisation=organisation), today_of(organisation=organisation)
    published = Schedule.objects.of(organisation).exclude(published_at=None).first()
    if published is None:
        yield "nothing is published"
        return
    if misfits := compare(organisation=organisation, schedule=published).misfits:
        yield f"{published} does not fit: {misfits}"
    placed = Task.objects.of(organisation).exclude(starts_at=None)
    for task in Task.objects.of(organisation).exclude(state=Task.State.DONE):
        begun = task.state == Task.State.STARTED
        if task.starts_at is None or (task.ends_at if begun else task.starts_at) < published.starts_at:
            yield f"{task} has no place to come"

    def work_on(first: date, days: int) -> bool:
        begins = datetime.combine(first, datetime.min.time(), zone)
        return placed.filter(starts_at__lt=begins + timedelta(days=days), ends_at__gt=begins).exists()

    if not work_on(today - timedelta(days=today.weekday()), 7) or not work_on(today, 7):
        yield "there is no work this week"
    if today.weekday() < 6 and not work_on(today, 1):
        yield "there is no work today"


def accounts(organisation: Organisation) -> Iterator[str]:
    """What members owe is what it was posted for, and a closed joint order is handed out and split whole."""
    yield from faults_of(organisation=organisation)
    for joint in JointOrder.objects.of(organisation).exclude(closed_at=None):
        for row in handing_of(joint):
            if row.left or row.over:
                yield f"{joint} has {row.left} of {row.need} left"
        if any(row.to_post for row in split_of(joint).rows if row.member):
            yield f"{joint} is not charged"


def stages(organisation: Organisation) -> dict[str, Any]:
    """How far the houses and orders are, for what the demo promises."""
    tasks = {(task.house_id, task.kind): task for task in _tasks(organisation).values()}
    trial = HoopBatch.objects.of(organisation).filter(state=HoopBatch.State.TRIAL, trials__isnull=False)
    today = today_of(organisation=organisation)
    sent = PurchaseOrder.objects.of(organisation).filter(state="sent")
    waiting = [line for order in sent for line in order.lines.all()]
    return {
        "covered": sum(kind == Kind.FILM and task.state == "done" for (_, kind), task in tasks.items()),
        "being sighted": sum(kind == Kind.SIGHT and task.state == "started" for (_, kind), task in tasks.items()),
        "trial hoop waiting": trial.distinct().count(),
        "half received": PurchaseOrder.objects.of(organisation).filter(state="part").count(),
        "due within a week": bool(waiting) and all(0 <= (line.due_on - today).days < 7 for line in waiting),
        "problems with a photo": Actual.objects.of(organisation).filter(photos__isnull=False, settled=None).count(),
        "joint orders under way": JointOrder.objects.of(organisation).filter(closed_at=None).count(),
        "joint orders finished": JointOrder.objects.of(organisation).exclude(closed_at=None).count(),
        "pipe between members": PipeLoan.objects.of(organisation).filter(back_at=None).count(),
        "wishes for common stock": CommonWish.objects.of(organisation).filter(state="open").count(),
        "damage disputed": Damage.objects.of(organisation).filter(state="disputed").count(),
        "bookings of members": BenderBooking.objects.of(organisation).filter(state__in=["booked", "out"]).count(),
    }
