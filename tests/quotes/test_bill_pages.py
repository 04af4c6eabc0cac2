"""Pages of stages and bills, gone through as a person does: refused in words, never half done, closed to others."""

from __future__ import annotations

import csv
import io
from datetime import date, datetime
from decimal import Decimal

import pytest
from django.urls import reverse

from farmbuild.demo.diary import clock_at
from farmbuild.orgs.clock import zone_of
from farmbuild.orgs.models import Membership
from farmbuild.quotes.bills.csv_files import bills_csv
from farmbuild.quotes.bills.services import bill_stage
from farmbuild.quotes.models import Bill, Stage
from tests.factories import MembershipFactory
from tests.quotes.agreed import accepted_change, accepted_job, staged
from tests.reading import text_of

pytestmark = pytest.mark.django_db
D = Decimal


def page(name, *args, **asked):
    query = "&".join(f"{key}={value}" for key, value in asked.items())
    return reverse(f"quotes:{name}", args=args) + (f"?{query}" if query else "")


def test_from_stages_to_the_last_bill(organisation, user, signed_in):
    job = accepted_job(organisation, user)
    accepted_change(job, user)
    number = job.number
    assert "Set the stages" in text_of(signed_in.get(page("job-bills", number)))
    wrong = signed_in.post(
        page("stages", number), {"rows": "On acceptance 30\nFinished 60", "kept_percent": "5", "pay_days": "14"}
    )
    assert "make 90 percent together" in text_of(wrong)
    assert not Stage.objects.exists()
    assert "has no percent at its end" in text_of(
        signed_in.post(page("stages", number), {"rows": "On acceptance", "kept_percent": "5", "pay_days": "14"})
    )
    stages = {"rows": "On acceptance 30\nHoops stand 40 %\nFinished 30", "kept_percent": "5", "pay_days": "14"}
    assert signed_in.post(page("stages", number), stages).status_code == 302
    assert signed_in.get(page("bill-new", number)).url == page("job-bills", number)
    assert signed_in.get(page("bill-new", number, stage=9)).status_code == 404
    shown = text_of(signed_in.get(page("job-bills", number)))
    assert "Bill On acceptance" in " ".join(shown.split())
    above = signed_in.post(page("bill-new", number, stage=1), {"amount": "6160.26", "day": "2026-11-02"})
    assert "above the contract" in text_of(above)
    assert not Bill.objects.exists()
    for stage, amount in ((1, "1848.08"), (2, "2464.10"), (3, None)):
        data = {"day": "2026-11-02"} | ({"amount": amount} if amount else {})
        assert signed_in.post(page("bill-new", number, stage=stage), data).status_code == 302
    assert sum(bill.billed for bill in Bill.objects.all()) == D("6160.25")
    again = signed_in.post(page("bill-new", number, stage=3), {"day": "2026-11-02"})
    assert "billed already, by B-0003" in text_of(again)
    assert "Bill what was kept back" in text_of(signed_in.get(page("job-bills", number)))
    assert signed_in.post(page("bill-new", number, kept=1), {"day": "2026-11-02"}).status_code == 302
    assert "All is billed." in text_of(signed_in.get(page("job-bills", number)))
    bill = text_of(signed_in.get(page("bill", 1)))
    for said in ("$1,848.08", "$92.40", "Materials and delivery", "16 November 2026"):
        assert said in bill
    assert signed_in.get(page("bill-pdf", 1)).content.startswith(b"%PDF-")
    assert signed_in.get(page("bill-workbook", 1)).content.startswith(b"PK")


def test_taken_back_and_listed_and_in_a_file(organisation, user, signed_in):
    job = accepted_job(organisation, user)
    signed_in.post(page("stages", job.number), {"rows": "All 100", "kept_percent": "0", "pay_days": "0"})
    signed_in.post(page("bill-new", job.number, stage=1), {"day": "2026-11-02"})
    assert "Say why" in text_of(signed_in.post(page("bill-back", 1), {"reason": ""}))
    assert signed_in.post(page("bill-back", 1), {"reason": "=Wrong stage"}).status_code == 302
    assert "B-0002 took it back" in text_of(signed_in.get(page("bill", 1)))
    assert "takes back B-0001" in text_of(signed_in.get(page("bill", 2)))
    assert signed_in.get(page("bill-back", 1)).status_code == 302
    signed_in.post(page("bill-new", job.number, stage=1), {"day": "2026-11-03"})
    shown = text_of(signed_in.get(page("bills")))
    assert "3 bills" in shown
    assert "$5,893.04 before tax" in " ".join(shown.split())
    rows = list(csv.DictReader(io.StringIO(signed_in.get(page("bills-csv")).content.decode("utf-8-sig"))))
    assert [row["Bill"] for row in rows] == ["B-0001", "B-0002", "B-0003"]
    assert sum(D(row["Before tax"]) for row in rows) == D("5893.04")
    assert sum(D(row["To be paid"]) for row in rows) == D("6027.21")
    assert rows[1]["Why"] == "'=Wrong stage"
    some = signed_in.get(page("bills-csv", last="2026-11-02", job=job.number)).content.decode("utf-8-sig")
    assert [row["Bill"] for row in csv.DictReader(io.StringIO(some))] == ["B-0001"]
    assert "No bills fit" in text_of(signed_in.get(page("bills", first="2030-01-01")))


def test_who_may_not_send_makes_no_bill(organisation, user, client):
    job = accepted_job(organisation, user)
    looks = MembershipFactory(organisation=organisation, role=Membership.Role.LOOKS).user
    client.force_login(looks)
    for name in ("stages", "bill-new", "job-bills", "against"):
        assert client.get(page(name, job.number)).status_code == 403
    assert client.post(page("stages", job.number), {"rows": "All 100"}).status_code == 403
    assert not Stage.objects.exists()


def test_a_bill_of_today_and_none_of_tomorrow(organisation, user, client):
    """A minute before the new year where the organisation is."""
    job = accepted_job(organisation, user)
    staged(job)
    with clock_at(datetime(2026, 12, 31, 23, 59, tzinfo=zone_of(organisation=organisation))):
        client.force_login(user)
        told = client.post(page("bill-new", job.number, stage=1), {"amount": "1000", "day": "2027-01-01"})
        assert "A bill is of today or of an earlier day." in text_of(told)
        assert not Bill.objects.exists()
        assert (
            client.post(page("bill-new", job.number, stage=1), {"amount": "1000", "day": "2026-12-31"}).status_code
            == 302
        )
    bill = Bill.objects.get()
    assert (bill.day, bill.number) == (date(2026, 12, 31), 1)


def test_files_have_the_places_of_their_coins_and_no_formula(organisation, user):
    organisation.currency = "JPY"
    organisation.save()
    other = accepted_job(organisation, user, name="Another")
    other.customer.name = '=HYPERLINK("http://invented.example")'
    other.customer.save()
    bill_stage(organisation=organisation, user=user, job=other, stage=staged(other)[0])
    [row] = csv.DictReader(io.StringIO(bills_csv(Bill.objects.filter(job=other)).decode("utf-8-sig")))
    assert row["Customer"].startswith("'=")
    assert all(row[name].isdecimal() for name in ("Before tax", "Kept back", "Tax", "To be paid"))
