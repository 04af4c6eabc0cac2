"""A job in Chromium on a phone, by visible links and buttons alone: from who asks for houses to what they taught."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest

from farmbuild.quotes.models import Bill, Job
from tests.browser.newcomer import Newcomer
from tests.browser.reading import SCREENS, WORDS, first_sentence, screens, spill, words_in
from tests.factories import (
    CrewFactory,
    HouseFactory,
    MembershipFactory,
    OfferFactory,
    PersonFactory,
    SiteFactory,
    SupplierFactory,
)

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
D = Decimal
PHONE = {"width": 390, "height": 844}
#: The customer's own words on the pages that follow.
CUSTOMER, JOB = "Fernhill Growers (invented)", "Two growing houses"
RATES = {
    "Labour, an hour, USD": "31.20",
    "Overhead, an hour, USD": "11.50",
    "Bender, a day, USD": "18",
    "Trip, USD": "27.28",
    "Contingency, percent": "4",
    "Margin, percent of the price": "18",
    "Tax on materials, percent": "6.25",
}
MONEY = re.compile(r"-?\$?[\d,]+\.\d\d")


class Contractor(Newcomer):
    """Looks at every page that comes: how long it is, what it begins with, and whether it is too wide."""

    def __init__(self, page, address: str) -> None:
        self.problems: list[str] = []
        super().__init__(page, address)

    def _press(self, thing) -> None:
        super()._press(thing)
        if screens(self.page) > SCREENS:
            self.problems.append(f"{self.page.url} is {screens(self.page):.1f} screens long")
        if words_in(first_sentence(self.page)) > WORDS:
            self.problems.append(f"{self.page.url} begins with: {first_sentence(self.page)}")
        if spill(self.page) > 0:
            self.problems.append(f"{self.page.url} is too wide")

    @property
    def answer(self) -> str:
        return " ".join(self.page.locator(".answer").first.inner_text().split())

    def next(self) -> None:
        """The main button."""
        self._press(self.page.locator("main .action").locator("visible=true").first)

    def job(self) -> None:
        self.follow("Houses", within="nav.places")
        self.follow("Jobs of customers")
        self.follow(JOB)

    def file(self, words: str) -> bytes:
        return self.download(words).read_bytes()

    def fact(self, name: str) -> Decimal:
        """The amount beside a name in a list of facts."""
        return amount(self.page.locator("main dt", has_text=re.compile(f"^{name}$")).locator("+ dd").inner_text())


def amount(words: str) -> Decimal:
    return D(MONEY.findall(words.replace("\u2212", "-"))[0].replace("$", "").replace(",", ""))


@pytest.fixture
def contractor(chromium, live_server, transactional_db, client, short_search):
    user = MembershipFactory(organisation__currency="USD").user
    organisation = user.memberships.get().organisation
    house = HouseFactory(site=SiteFactory(organisation=organisation, name="Own yard"), name="Show house")
    supplier = SupplierFactory(organisation=organisation, name="Invented Pipe")
    OfferFactory(supplier=supplier, material=house.recipe.tube, price="14.60")
    OfferFactory(supplier=supplier, material=house.post_material, price="36.40", length=house.post_length * 4)
    crew = CrewFactory(organisation=organisation)
    for name in ("Ann", "Ben"):
        PersonFactory(crew=crew, name=name)
    client.force_login(user)
    context = chromium.new_context(viewport=PHONE, reduced_motion="reduce")
    context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}])
    yield Contractor(context.new_page(), live_server.url)
    context.close()


def test_from_who_asks_for_houses_to_what_they_taught(contractor, chromium):
    me = contractor
    enquire(me)
    quote(me)
    link = send(me)
    accept(chromium, link)
    order(me)
    schedule(me)
    work(me)
    change(me)
    bill(me)
    hold_against(me)
    learn(me)
    assert me.problems == []


def enquire(me: Contractor) -> None:
    me.follow("Jobs of customers")
    me.follow("Add a job")
    me.type("Name", CUSTOMER)
    me.press("Save the customer")
    me.next()
    assert me.shows("Customer") == CUSTOMER
    me.type("What it is", JOB)
    me.press("Save the job")
    me.next()
    me.type("Width of the ground", "40'")
    me.choose("Lines overhead", "None seen")
    me.press("Save")


def quote(me: Contractor) -> None:
    me.next()
    for label, value in RATES.items():
        me.type(label, value)
    me.press("Save the rates")
    me.next()
    me.next()
    me.follow("Like Show house")
    me.type("How many such houses", "2")
    me.press("Save")
    me.next()
    me.follow("Add an option")
    me.type("Name", "Longer")
    me.choose("Begin like", "Option 1")
    me.press("Save the option")
    me.follow("Show house")
    me.type("House length", "60'")
    me.press("Save")
    me.next()
    assert me.answer == "2 options, each with its price and why it differs."
    assert "more than Option 1" in me.text


def send(me: Contractor) -> str:
    me.next()
    me.press("Mark as sent")
    assert me.file("Download the PDF").startswith(b"%PDF")
    me.press("Make a link")
    return next(line for line in me.text.splitlines() if "/offered/" in line)


def accept(chromium, link: str) -> None:
    """Somebody who has the link, and no account."""
    context = chromium.new_context(viewport=PHONE, reduced_motion="reduce")
    customer = Contractor(context.new_page(), link)
    assert not customer.page.locator("nav.places").count()
    assert context.request.get(f"{link}quote.pdf").body().startswith(b"%PDF")
    customer.page.get_by_role("radio", name=re.compile("^Longer: ")).check()
    customer.type("Your name", "Ada Fern")
    customer.press("Accept")
    assert customer.answer.startswith("Ada Fern accepted Longer on ")
    assert customer.problems == []
    context.close()


def order(me: Contractor) -> None:
    """By the main button of the job each time."""
    me.job()
    assert "no longer as the customer agreed" not in me.text
    assert "Ada Fern accepted Longer" in me.text
    me.next()
    me.press("Accept this plan")
    me.job()
    me.next()
    me.press("Mark as sent")
    me.job()
    me.next()
    me.type("Where it lies", "At the customer")
    for at, pieces in enumerate(re.findall(r"(\d+) of \d+ still on order", me.text), 1):
        me.type(f"Pieces that came on line {at}", pieces)
    me.press("Receive")


def schedule(me: Contractor) -> None:
    for first in (True, False):
        me.job()
        me.next()
        if first:
            me.press("Start with the shipped steps")
        me.choose("Template", "Pipe-framed house")
        me.press("Make the tasks")
    me.job()
    me.next()
    me.press("Work out the schedule")
    me.page.get_by_role("button", name="Publish it for everybody").wait_for()
    me.press("Publish it for everybody")


def work(me: Contractor) -> None:
    """Materials go into the house, and hours are charged to the job."""
    me.job()
    me.follow("Show house")
    me.follow("See it row by row")
    me.follow("hoops")
    me.next()
    me.press("Issue")
    me.job()
    me.follow("Record time")
    me.follow("Pay rates and prices")
    me.next()
    me.type("Cost of an hour, USD", "29")
    me.type("From this day on", "2020-01-01")
    me.press("Set")
    me.job()
    me.follow("Record time")
    me.choose("Who", "Ann")
    me.choose("Step", "Saw pieces")
    me.type("Hours", "3.25")
    me.press("Record time")
    me.job()
    # 32 sticks at 14.60; 3.25 hours at 29.00, and 11.50 of overhead.
    assert "Show house: $467.20 so far" in me.text
    assert "The job as a whole: $131.63 so far" in me.text


def change(me: Contractor) -> None:
    me.follow("Make a change order")
    me.type("What changes", "A door at the back")
    me.press("Go on")
    me.type("What it is", "Door set")
    me.type("How many, or hours", "1")
    me.type("Price of one", "41.50")
    me.press("Add it")
    me.next()
    me.press("Mark as sent")
    me.follow("Enter the customer’s answer")
    me.page.get_by_label("Accepted", exact=True).check()
    me.type("How it was said", "by letter")
    me.press("Write it down")


def bill(me: Contractor) -> None:
    """Stages with 5 % kept back until the end, and what was kept back then."""
    me.job()
    me.follow("Bills")
    me.next()
    me.type("Kept back until the end, percent", "5")
    me.press("Save the stages")
    for _ in ("On acceptance", "Hoops stand", "Finished"):
        me.next()
        me.press("Make the bill")
    assert me.answer.startswith("All is billed.")
    kept = me.fact("Kept back")
    me.next()
    me.press("Make the bill")
    job = Job.objects.get()
    contract = job.acceptance.total + sum(row.total for row in job.changes.all())
    assert kept > 0
    assert me.fact("Kept back") == 0
    assert me.fact("To be paid in all") == contract
    me.follow(Bill.objects.latest("number").reference)
    assert me.file("Get the PDF").startswith(b"%PDF")


def hold_against(me: Contractor) -> None:
    me.job()
    me.follow("Cost against the quote")
    cells = me.page.locator("main table").first.locator("tbody td.figure").all_inner_texts()
    assert sum(map(amount, cells)) == me.fact("Cost so far") - me.fact("Quoted")
    assert me.fact("Cost so far") == D("598.83")
    assert me.fact("At completion") == me.fact("Cost so far") + me.fact("Still to come")


def learn(me: Contractor) -> None:
    me.page.locator("main .more summary").click()
    me.press("The job is finished")
    assert Job.objects.get().state == Job.State.FINISHED
    me.next()
    assert "Nothing changes by itself" in me.answer
    assert "of 1 finished job" in me.text
