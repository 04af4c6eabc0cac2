"""Jobs of invented customers from the quote to the bill, through services with the clock of then."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import partial
from typing import Any

from farmbuild.costs.equipment.services import charge_day
from farmbuild.costs.models import Equipment
from farmbuild.costs.time.services import type_time
from farmbuild.costs.trips.services import charge_trips
from farmbuild.crew.people.selectors import people_of
from farmbuild.demo.bridge import read_length
from farmbuild.demo.diary import Diary
from farmbuild.demo.quotes import like_it
from farmbuild.measure import round_money
from farmbuild.orgs.models import Organisation, User
from farmbuild.plans.services import work_out_plan
from farmbuild.quotes.against.services import finish_job
from farmbuild.quotes.bills.services import bill_stage, save_stages
from farmbuild.quotes.changes.services import add_line, answer_on_behalf, draft_change, send_change
from farmbuild.quotes.customers.services import save_customer
from farmbuild.quotes.jobs.services import create_job
from farmbuild.quotes.models import Job, QuoteLine
from farmbuild.quotes.pricing import services as pricing
from farmbuild.quotes.sending.accepting import Answer, accept_on_behalf
from farmbuild.quotes.sending.services import send_quote
from farmbuild.sites.models import House
from farmbuild.sites.services import archive_house
from farmbuild.sites.starters import values_like
from farmbuild.stock.services import NewLot, issue_pieces, place_named, receive_lots

#: Hours of one person on one day.
DAY = 8 * 60
#: Hours are noted by the five minutes.
_STEP = 5


def enter_jobs(
    diary: Diary, *, organisation: Organisation, user: User, houses: list[House], rows: list[Mapping[str, Any]]
) -> None:
    """Write into the diary what happened to each job of the file."""
    named = {house.name: house for house in houses}
    for row in rows:
        job = JobOfThen(organisation, user, named[row["like"]], row)
        diary.on(row["sent"], 10, job.send)
        diary.on(row["answered"], 11, job.accept)
        diary.on(row["lorry"], 13, job.use_goods)
        diary.on(row["built"], 17, job.build)
        for change in row["changes"]:
            diary.on(change["on"], 18, partial(job.change, change))
        diary.on(row["billed"], 19, job.bill)
        if "finished" in row:
            diary.on(row["finished"], 20, job.finish)


@dataclass(frozen=True)
class JobOfThen:
    """A row of the file; ``like``: the house that it is quoted like. People, prices and customers are invented."""

    organisation: Organisation
    user: User
    like: House
    row: Mapping[str, Any]

    @property
    def who(self) -> dict[str, Any]:
        return {"organisation": self.organisation, "user": self.user}

    @property
    def job(self) -> Job:
        jobs = Job.objects.of(self.organisation).select_related("acceptance__option", "site")
        return jobs.get(name=self.row["name"])

    def _lines(self, kind: str) -> list[QuoteLine]:
        """Of what was accepted."""
        return [*self.job.acceptance.option.lines.filter(kind=kind).select_related("material")]

    def send(self, day: date) -> None:
        customer = save_customer(**self.who, data=self.row["customer"])
        job = create_job(**self.who, data={"customer": customer, "name": self.row["name"]})
        quote = pricing.create_quote(**self.who, job=job)
        option = pricing.rename_option(**self.who, option=quote.options.get(), name="As asked for")
        data = values_like(self.like)
        pricing.add_house(**self.who, option=option, name=self.row["house"], quantity=1, data=data, source=self.like)
        for name, sizes in self.row["options"].items():
            like_it(option, name, self.who, **{size: read_length(text) for size, text in sizes.items()})
        until = day + timedelta(days=quote.valid_days)
        send_quote(**self.who, quote=quote, valid_until=until, how="By e-mail")

    def accept(self, day: date) -> None:
        job = Job.objects.of(self.organisation).get(name=self.row["name"])
        quote = job.quotes.get()
        answer = Answer(quote.options.get(name="As asked for").pk, self.row["by"], day, "By telephone")
        accept_on_behalf(**self.who, version=quote.versions.get(), answer=answer)
        work_out_plan(self.job.plan_id)

    def use_goods(self, day: date) -> None:
        """They come on a lorry of their own and go into the house; ``dearer``: than they were quoted at."""
        job, dearer = self.job, Decimal(self.row["dearer"])
        place = place_named(**self.who, name=f"At the customer, {job.reference}", site=job.site)
        lines = [line for line in self._lines("goods") if line.material.kind in self.row["goods"]]
        currency = self.organisation.currency
        lots = [
            NewLot(
                material=line.material,
                quantity=int(line.quantity),
                place=place,
                received_on=day,
                length=line.length,
                amount=round_money(line.quantity * line.price * dearer, currency),
            )
            for line in lines
        ]
        for lot in receive_lots(**self.who, lots=lots):
            issue_pieces(**self.who, lot=lot, quantity=lot.on_hand, house=self._house(job), reason="Built in")

    def _house(self, job: Job) -> House:
        return House.objects.get(job_houses__job=job)

    def build(self, day: date) -> None:
        """Days of work up to this one, each quoted step in turn, ``longer`` than quoted; bender and trips with them."""
        job, people = self.job, self._people()
        house, spent, days = self._house(job), 0, self.row["days"]
        for line in self._lines("hours"):
            minutes = round(float(line.quantity) * 60 * self.row["slower"] / _STEP) * _STEP
            while minutes and line.step in self.row["steps"]:
                on, person = divmod(spent // DAY, len(people))
                some = min(minutes, DAY - spent % DAY)
                type_time(
                    **self.who,
                    person=people[person],
                    day=_workday(day, min(on, days - 1) - days + 1),
                    house=house,
                    step=line.step,
                    minutes=some,
                )
                minutes, spent = minutes - some, spent + some
        bender = Equipment.objects.of(self.organisation).get(bender__slug=self.row["bender"])
        charge_day(**self.who, equipment=bender, day=day, house=house)
        charge_trips(**self.who, site=job.site, day=day, times=days, house=house)

    def _people(self) -> list[Any]:
        found = {person.name: person for person in people_of(organisation=self.organisation)}
        return [found[name] for name in self.row["people"]]

    def change(self, row: Mapping[str, Any], day: date) -> None:
        """It stays a draft where nobody has answered."""
        change = draft_change(**self.who, job=self.job, what=row["what"])
        for line in row["lines"]:
            price = Decimal(line["price"]) if "price" in line else None
            add_line(
                **self.who,
                change=change,
                kind=line["kind"],
                what=line["what"],
                quantity=Decimal(line["quantity"]),
                price=price,
            )
        if row["accepted"]:
            send_change(**self.who, change=change, valid_until=day + timedelta(days=14), how="By e-mail")
            answer = {"accept": True, "name": self.row["by"], "day": day, "how": "On the site"}
            answer_on_behalf(**self.who, change=change, **answer)

    def bill(self, day: date) -> None:
        """Stages are agreed, and the first is billed."""
        rows = [(name, Decimal(percent)) for name, percent in self.row["stages"].items()]
        terms = {"kept_percent": Decimal(self.row["kept"]), "pay_days": 30}
        save_stages(**self.who, job=self.job, rows=rows, **terms)
        bill_stage(**self.who, job=self.job, stage=self.job.stages.get(position=1))

    def finish(self, day: date) -> None:
        job = finish_job(**self.who, job=self.job)
        archive_house(**self.who, house=self._house(job))


def _workday(day: date, back: int) -> date:
    """So many days from Monday to Friday before ``day``, which is one."""
    while back < 0:
        day -= timedelta(days=3 if day.weekday() == 0 else 1)
        back += 1
    return day
