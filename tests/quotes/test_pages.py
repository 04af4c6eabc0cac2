"""Pages of customers, jobs and quotes: gone through as a person does, refused in words, and closed to others."""

from __future__ import annotations

from decimal import Decimal
from io import BytesIO

import pytest
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from PIL import Image

from farmbuild.orgs.models import Membership
from farmbuild.quotes.bills import services as bills
from farmbuild.quotes.models import (
    Customer,
    Job,
    JobHouse,
    Option,
    Quote,
    QuoteLine,
    QuoteRates,
    QuoteVersion,
    Stage,
    Survey,
    SurveyPhoto,
)
from farmbuild.quotes.pricing import services
from tests.factories import HouseFactory, MembershipFactory, OfferFactory, SiteFactory, SupplierFactory
from tests.quality.test_query_counts import copies
from tests.quotes.agreed import accepted_change, accepted_job, staged
from tests.quotes.begun import add_lines, begin, lines_of
from tests.reading import text_of

pytestmark = pytest.mark.django_db
D = Decimal


def page(name, *args):
    return reverse(f"quotes:{name}", args=args)


def posted(client, address, **data):
    answer = client.post(address, data)
    assert answer.status_code == 302, text_of(answer)
    return answer


def photo(colour="green"):
    out = BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, "JPEG")
    return SimpleUploadedFile("ground.jpg", out.getvalue(), content_type="image/jpeg")


RATES = {
    "labour": "31.20",
    "overhead": "11.50",
    "bender_day": "18",
    "trip": "27.28",
    "people": "2",
    "day_hours": "8",
    "contingency": "4",
    "margin": "18",
    "waste": "5",
    "tax_materials": "6.25",
    "tax_work": "0",
    "tax_equipment": "0",
    "valid_days": "30",
    "yard": "ignored",
    "exclusions": "No ground work.",
}


def test_from_a_customer_to_the_worked_example_by_pages_alone(signed_in, organisation):
    assert "customer first" in text_of(signed_in.get(page("job-new"), follow=True))
    posted(signed_in, page("customer-new"), name="Fernhill Growers (invented)", email="a@example.org")
    customer = Customer.objects.get()
    posted(signed_in, page("job-new"), customer=customer.pk, name="One growing house")
    job = Job.objects.get()
    assert job.reference == "J-0001"
    posted(
        signed_in,
        page("ground", 1),
        ground_span="20'",
        ground_length="60'",
        slope="2.5",
        overhead="none",
        buried="marked",
        marked_on="2027-03-01",
        marked_by="The power company",
    )
    posted(signed_in, page("photos", 1), photos=photo(), caption="North corner")
    shown = text_of(signed_in.get(page("job", 1)))
    assert "Marked on the ground on 1 March 2027 by The power company" in shown
    assert "Caution" in shown
    # Before rates there is nothing to quote with.
    rates = posted(signed_in, page("quote-new", 1)).url
    assert rates == f"{page('rates')}?job=1"
    assert posted(signed_in, rates, **RATES).url == page("job", 1)
    assert posted(signed_in, page("quote-new", 1)).url == page("option", 1, 1)
    for kind, what, quantity, price in lines_of("48'"):
        sent = {"kind": kind, "what": what, "quantity": str(quantity), "price": "" if price is None else str(price)}
        posted(signed_in, page("line-new", 1, 1), **sent)
    shown = text_of(signed_in.get(page("option", 1, 1)))
    for figure in ("1,692.60", "2,754.15", "199.68", "4,646.43", "185.86", "2,146.71", "3,493.07", "253.26", "134.17"):
        assert figure in shown
    assert "$6,027.21, tax included" in shown
    posted(signed_in, page("option-new", 1), name="With a wider film", like=Option.objects.get().pk)
    other = Option.objects.get(position=2)
    film = other.lines.get(what="film")
    posted(signed_in, page("line", 1, 2, film.pk), kind="goods", what="film", quantity="1", price="398")
    shown = text_of(signed_in.get(page("quote", 1)))
    # 100 x 1.04 / 0.82, and 6.25 % of it.
    assert "costs $134.76 more than Option 1" in shown
    assert "Materials and delivery: $126.83" in shown
    assert "Tax: $7.93" in shown
    assert "Option 1: $6,027.21" in text_of(signed_in.get(page("job", 1)))


def test_a_house_is_adjusted_by_the_form_of_a_house_and_priced(signed_in, organisation, user):
    house = HouseFactory(site__organisation=organisation)
    OfferFactory(supplier=SupplierFactory(organisation=organisation), material=house.recipe.tube, price="14.60")
    begin(organisation, user)
    address = page("house-like", 1, 1, house.slug)
    opened = signed_in.get(address)
    form = opened.context["form"]
    assert [name for name in form.fields if f'name="{name}"' not in opened.content.decode()] == []
    sent = {name: form[name].value() for name in form.fields}
    sent = {name: "" if value is None else value for name, value in sent.items() if value is not False}
    for name in ("recipe", "post_material"):
        sent[name] = getattr(house, f"{name}_id")
    refused = signed_in.post(address, sent | {"length": "-1'"})
    assert refused.status_code == 200
    assert not Option.objects.get().houses.exists()
    posted(signed_in, address, **sent | {"length": "72'", "name": "Longer", "quantity": "2"})
    option = Option.objects.get()
    row = option.houses.get()
    assert (row.name, row.quantity, row.source_house) == ("Longer", 2, house)
    house.refresh_from_db()
    assert house.length == D("304.8") * 48
    # 19 hoops, twice, of two sticks, and 5 %.
    assert option.lines.get(material=house.recipe.tube).quantity == 80
    shown = text_of(signed_in.get(page("option", 1, 1)))
    assert f"Not priced: {house.post_material.name}" in shown
    assert "Add an offer that holds today under Suppliers" in shown
    # And changed again.
    address = page("house", 1, 1, row.pk)
    assert "72'" in str(signed_in.get(address).context["form"]["length"].value())
    posted(signed_in, address, **sent | {"length": "48'", "name": "Shorter", "quantity": "1"})
    assert option.lines.get(material=house.recipe.tube).quantity == 28
    posted(signed_in, page("house-remove", 1, 1, row.pk))
    assert not option.lines.exists()


def test_from_a_starter(signed_in, organisation, user):
    begin(organisation, user)
    assert signed_in.get(page("house-choose", 1, 1)).status_code == 200
    from farmbuild.sites.starters import starters_in

    slug = next(starter.slug for starter in starters_in("imperial") if starter.recipe)
    answer = posted(signed_in, page("house-choose", 1, 1), starter=slug)
    assert answer.url == page("house-new", 1, 1, slug)
    form = signed_in.get(answer.url).context["form"]
    typed = {field.html_name: "" if field.value() in (None, False) else field.value() for field in form}
    posted(signed_in, answer.url, **typed)
    missing = len(Option.objects.get().not_priced)
    assert missing > 1
    # Nobody takes the sum for the whole.
    assert f"tax included, without the {missing} things that have no price." in text_of(
        signed_in.get(page("option", 1, 1))
    )
    assert "tax included, without what has no price yet." in text_of(signed_in.get(page("quote", 1)))


@pytest.mark.parametrize(
    ("name", "field", "value", "words"),
    [
        ("quote-edit", "margin", "100", "less than 100"),
        ("quote-edit", "labour", "-3", ""),
        ("quote-edit", "waste", "-1", "0 or more"),
        ("quote-edit", "day_hours", "0", "half an hour"),
    ],
)
def test_rates_that_cannot_be_are_refused_at_their_field(signed_in, organisation, user, name, field, value, words):
    begin(organisation, user)
    answer = signed_in.post(page(name, 1), RATES | {field: value})
    assert answer.status_code == 200
    assert words in " ".join(answer.context["form"].errors[field])
    assert getattr(Quote.objects.get(), field) == getattr(QuoteRates.objects.get(), field)


@pytest.mark.parametrize(
    ("sent", "field", "words"),
    [
        ({"kind": "hours", "what": "Door", "quantity": "-2"}, "quantity", "Type 0 or more."),
        ({"kind": "goods", "what": "Door", "quantity": "2", "price": ""}, "price", "Type the price of one."),
        ({"kind": "goods", "what": "", "quantity": "2", "price": "1"}, "what", "Type what it is."),
        ({"kind": "goods", "what": "Door", "quantity": "many", "price": "1"}, "quantity", "plain number"),
    ],
)
def test_lines_that_cannot_be_are_refused_at_their_field(signed_in, organisation, user, sent, field, words):
    begin(organisation, user)
    answer = signed_in.post(page("line-new", 1, 1), sent)
    assert answer.status_code == 200
    assert words in " ".join(answer.context["form"].errors[field])
    assert not QuoteLine.objects.exists()


def test_an_option_without_a_house_says_what_to_do(signed_in, organisation, user):
    begin(organisation, user)
    shown = text_of(signed_in.post(page("option-price", 1, 1), follow=True))
    assert "This option has no house yet. Add one from a starter or from your own" in shown


def test_buried_lines_are_marked_by_somebody_on_a_day(signed_in, organisation, user):
    begin(organisation, user)
    answer = signed_in.post(page("ground", 1), {"overhead": "none", "buried": "marked", "slope": "120"})
    errors = answer.context["form"].errors
    assert {"marked_on", "marked_by", "slope"} <= errors.keys()
    assert not Survey.objects.exists()


def test_photos_are_made_small_served_and_taken_away(signed_in, organisation, user):
    begin(organisation, user)
    posted(signed_in, page("photos", 1), photos=photo(), caption="North")
    again = signed_in.post(page("photos", 1), {"photos": photo()})
    assert "there already" in text_of(again)
    broken = SimpleUploadedFile("x.jpg", b"no picture", content_type="image/jpeg")
    assert "no JPEG" in text_of(signed_in.post(page("photos", 1), {"photos": broken}))
    row = SurveyPhoto.objects.get()
    answer = signed_in.get(page("photo-whole", row.pk))
    assert answer["Content-Type"] == "image/jpeg"
    assert signed_in.get(page("photo-small", row.pk), headers={"If-None-Match": answer["ETag"]}).status_code == 200
    posted(signed_in, page("photo-remove", row.pk))
    assert signed_in.get(page("photo-whole", row.pk)).status_code == 404
    assert SurveyPhoto.objects.get().data is None


def test_lost_and_taken_up_again(signed_in, organisation, user):
    begin(organisation, user)
    posted(signed_in, page("job-lost", 1), because="Too dear")
    assert "Lost, for Fernhill Growers (invented): Too dear" in text_of(signed_in.get(page("job", 1)))
    assert "One growing house" not in text_of(signed_in.get(page("jobs")))
    assert "One growing house" in text_of(signed_in.get(page("jobs") + "?over=1"))
    posted(signed_in, page("job-again", 1))
    assert Job.objects.get().state == "enquiry"


def test_a_customer_with_an_open_job_is_not_archived(signed_in, organisation, user):
    begin(organisation, user)
    slug = Customer.objects.get().slug
    assert "J-0001 of Fernhill" in text_of(signed_in.post(page("customer-archive", slug), follow=True))
    posted(signed_in, page("job-lost", 1), because="Too dear")
    posted(signed_in, page("customer-archive", slug))
    assert "1 archived customer" in text_of(signed_in.get(page("customers") + "?archived=1"))
    assert "0 customers" in text_of(signed_in.get(page("customers")))
    posted(signed_in, page("customer-archive", slug))
    assert "1 customer." in text_of(signed_in.get(page("customers")))


def names(option):
    line, house = option.lines.first(), option.houses.first()
    return {
        **dict.fromkeys(("rates", "jobs", "customers", "quotes", "job-new", "customer-new"), ()),
        "customer": (option.quote.job.customer.slug,),
        **dict.fromkeys(("job", "job-edit", "job-lost", "ground", "quote", "quote-edit", "option-new"), (1,)),
        **dict.fromkeys(("option", "option-name", "house-choose", "line-new"), (1, 1)),
        "line": (1, 1, line.pk),
        "house": (1, 1, house.pk),
    }


@pytest.fixture
def quoted(organisation, user):
    house = HouseFactory(site__organisation=organisation)
    _, _, option = begin(organisation, user)
    services.take_house(organisation=organisation, user=user, option=option, house=house)
    return option


def test_pages_answer_who_may_and_nobody_of_another_organisation(client, quoted):
    stranger = MembershipFactory().user
    looks = MembershipFactory(organisation=quoted.organisation, role=Membership.Role.LOOKS).user
    crew = MembershipFactory(organisation=quoted.organisation, role=Membership.Role.CREW).user
    planner = MembershipFactory(organisation=quoted.organisation, role=Membership.Role.PLANNER).user
    for user, allowed in (
        (planner, set(names(quoted))),
        (looks, {"jobs", "job", "customers", "customer"}),
        (crew, set()),
    ):
        client.force_login(user)
        answers = {name: client.get(page(name, *args)).status_code for name, args in names(quoted).items()}
        assert {name for name, code in answers.items() if code == 200} == allowed
        assert set(answers.values()) <= {200, 403}
    client.force_login(stranger)
    foreign = {name: args for name, args in names(quoted).items() if args}
    assert {client.get(page(name, *args)).status_code for name, args in foreign.items()} == {404}
    before = QuoteLine.objects.count()
    line, house = quoted.lines.first(), quoted.houses.first()
    presses = [page("option-price", 1, 1), page("option-remove", 1, 1), page("house-remove", 1, 1, house.pk)]
    presses += [page("line-remove", 1, 1, line.pk), page("quote-new", 1), page("job-again", 1)]
    assert {client.post(address).status_code for address in presses} == {404}
    assert QuoteLine.objects.count() == before


def test_who_sees_no_costs_reads_no_amount_of_a_job(client, quoted):
    looks = MembershipFactory(organisation=quoted.organisation, role=Membership.Role.LOOKS).user
    client.force_login(looks)
    shown = text_of(client.get(page("job", 1)))
    assert "Option 1" in shown
    assert "$" not in shown


def test_pages_ask_as_often_for_ten_options_as_for_two(signed_in, organisation, user, quoted):
    def asked(name, *args):
        cache.clear()
        with CaptureQueriesContext(connection) as found:
            assert signed_in.get(page(name, *args)).status_code == 200
        return len(found)

    quote = quoted.quote
    services.add_option(organisation=organisation, user=user, quote=quote, name="Two", like=quoted)
    few = [asked("quote", 1), asked("job", 1), asked("option", 1, 1)]
    for number in range(3, 11):
        option = services.add_option(organisation=organisation, user=user, quote=quote, name=f"O{number}", like=quoted)
        add_lines(option, "door", user)
    add_lines(quoted, "48'", user)
    assert [asked("quote", 1), asked("job", 1), asked("option", 1, 1)] == few


def test_pages_of_a_job_ask_as_often_for_many_of_everything(signed_in, organisation, user):
    """Change orders, stages, bills and credits, houses, versions, links and photos: ten times as many."""
    job = accepted_job(organisation, user)
    staged(job, (90,))
    version = QuoteVersion.objects.get()
    site = SiteFactory(organisation=organisation)

    def more(count):
        for _ in range(count):
            accepted_change(job, user)
            house = HouseFactory(site=site)
            JobHouse.objects.create(organisation=organisation, job=job, house=house, agreed="0" * 64)
        first = Stage.objects.filter(job=job).count()
        rows = [
            Stage(organisation=organisation, job=job, position=first + at, name=f"Stage {at}", percent=D(1))
            for at in range(1, count + 1)
        ]
        for stage in Stage.objects.bulk_create(rows):
            bill = bills.bill_stage(organisation=organisation, user=user, job=job, stage=stage, amount=D(1))
            bills.take_back(organisation=organisation, user=user, bill=bill, reason="wrong stage")
        survey = Survey.objects.get_or_create(organisation=organisation, job=job)[0]
        one = SurveyPhoto(organisation=organisation, survey=survey, data=b"x", thumbnail=b"x", width=1, height=1)
        last = survey.photos.count()
        digests = {"position": lambda n: last + n + 1, "sha256": lambda n: f"{last + n:064}"}
        SurveyPhoto.objects.bulk_create(copies(one, count, **digests))
        number = version.quote.versions.count()
        QuoteVersion.objects.bulk_create(copies(version, count, number=lambda n: number + n + 1, state="withdrawn"))

    def asked(name, *args):
        with CaptureQueriesContext(connection) as found:
            assert signed_in.get(page(name, *args)).status_code == 200
        return len(found)

    def all_of_them():
        shown = [("job", 1), ("job-bills", 1), ("against", 1), ("quote", 1), ("change", 1, 1)]
        return {name: asked(name, *args) for name, *args in shown}

    more(1)
    few = all_of_them()
    more(9)
    assert all_of_them() == few
