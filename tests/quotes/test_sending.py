"""What goes out is frozen: page, PDF and workbook say the same to the cent, and nothing of it changes."""

from __future__ import annotations

import io
import subprocess
from datetime import date, timedelta
from decimal import Decimal
from hashlib import sha256

import pytest
from django.core.exceptions import ValidationError
from django.db import DatabaseError, connection, transaction
from openpyxl import load_workbook

from farmbuild.orgs.acts import NotAllowed, Role
from farmbuild.orgs.clock import today_of
from farmbuild.quotes.models import Job, QuoteVersion
from farmbuild.quotes.sending.selectors import file_of
from farmbuild.quotes.sending.services import MAX_DAYS, check_valid_until, send_quote, withdraw_version
from tests.factories import MembershipFactory, OrganisationFactory
from tests.quotes.begun import FIGURES, begin
from tests.quotes.sent import quoted, sent

pytestmark = pytest.mark.django_db
D = Decimal


def words_of(pdf: bytes, tmp_path) -> str:
    path = tmp_path / "quote.pdf"
    path.write_bytes(pdf)
    told = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True, text=True)
    return told.stdout


def figures(name: str) -> dict[str, Decimal]:
    names = "goods labour overhead uses cost contingency materials work equipment before_tax tax total"
    return dict(zip(names.split(), map(D, FIGURES[name].split()), strict=True))


def said(amount: Decimal) -> str:
    return f"${amount:,.2f}"


def test_all_that_is_shown_is_kept(organisation, user, tmp_path):
    job, quote = quoted(organisation, user)
    version = sent(organisation, user, quote)
    job.refresh_from_db()
    assert job.state == Job.State.QUOTED and version.number == 1 and version.sent_how == "by e-mail"
    shown = version.shown
    for option, name in zip(shown["options"], ("48'", "72'"), strict=True):
        wanted = figures(name)
        assert [D(part["price"]) for part in option["parts"]] == [
            wanted["materials"],
            wanted["work"],
            wanted["equipment"],
        ]
        assert [D(option[key]) for key in ("before_tax", "tax", "total")] == [
            wanted["before_tax"],
            wanted["tax"],
            wanted["total"],
        ]
        (house,) = option["houses"]
        assert house["facts"] and [title for title, _ in house["drawings"]] == ["Section", "Side view and plan"]
        assert all("<svg" in svg for _, svg in house["drawings"])
        assert ["rail 10'", {"48'": "41", "72'": "60"}[name]] in option["included"]
    assert shown["exclusions"] == ["Levelling of the ground", "Water and power"] and shown["cautions"]
    pdf, workbook = file_of(version=version, name="pdf"), file_of(version=version, name="workbook")
    assert (version.sha256, version.workbook_sha256) == (sha256(pdf).hexdigest(), sha256(workbook).hexdigest())
    words = words_of(pdf, tmp_path)
    for name in ("48'", "72'"):
        for key in ("materials", "work", "equipment", "before_tax", "tax", "total"):
            assert said(figures(name)[key]) in words, (name, key)
    assert said(figures("72'")["total"] - figures("48'")["total"]) in words
    for line in ("Levelling of the ground", "Fernhill Growers (invented)", "One growing house", "Page 1 of"):
        assert line in words
    # What it costs and what is earned on it are nobody's business but the sender's.
    for hidden in ("4,646.43", "185.86", "31.20", "13.40", "11.50"):
        assert hidden not in words


def test_the_workbook_adds_up_by_itself(organisation, user):
    _, quote = quoted(organisation, user)
    book = load_workbook(io.BytesIO(file_of(version=sent(organisation, user, quote), name="workbook")))
    cells = {row[0].value: [cell.value for cell in row[1:3]] for row in book["Quote"].iter_rows() if row[0].value}
    assert all(str(value).startswith("=") for name in ("Before tax", "Tax", "Total") for value in cells[name])
    assert all(str(value).startswith("=ROUND") for value in cells["Tax on materials and delivery, 6.25 %"])
    assert cells["Work"] == [3493.07, 4779.28]


@pytest.mark.office
def test_recalculated_it_gives_what_was_offered(organisation, user, tmp_path):
    _, quote = quoted(organisation, user)
    path = tmp_path / "quote.xlsx"
    path.write_bytes(file_of(version=sent(organisation, user, quote), name="workbook"))
    out = tmp_path / "out"
    subprocess.run(
        ["soffice", f"-env:UserInstallation=file://{tmp_path}/office", "--headless",
         "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", str(out), str(path)],
        check=True, capture_output=True, timeout=120,
    )  # fmt: skip
    book = load_workbook(out / "quote.xlsx", data_only=True)
    cells = {row[0].value: [cell.value for cell in row[1:3]] for row in book["Quote"].iter_rows() if row[0].value}
    for label, key in (("Before tax", "before_tax"), ("Tax", "tax"), ("Total", "total")):
        assert [D(str(round(value, 4))) for value in cells[label]] == [figures(name)[key] for name in ("48'", "72'")]


@pytest.mark.parametrize(("currency", "coins"), [("JPY", 0), ("KWD", 3)])
def test_other_coins(currency, coins, tmp_path):
    organisation = OrganisationFactory(currency=currency)
    user = MembershipFactory(organisation=organisation).user
    _, quote = quoted(organisation, user, ("48'",))
    version = sent(organisation, user, quote)
    (option,) = version.shown["options"]
    total = D(option["total"])
    assert -total.as_tuple().exponent == coins
    assert total == sum(D(part["price"]) + D(part["tax"]) for part in option["parts"])
    assert f"{total:,}" in words_of(file_of(version=version, name="pdf"), tmp_path)


def test_a_change_is_for_the_next_version(organisation, user):
    _, quote = quoted(organisation, user)
    first = sent(organisation, user, quote)
    before = QuoteVersion.objects.defer(None).filter(pk=first.pk).values().get()
    line = quote.options.first().lines.get(what="film")
    line.price = D(310)
    line.save()
    quote.margin = D(20)
    quote.save()
    assert QuoteVersion.objects.defer(None).filter(pk=first.pk).values().get() == before
    second = sent(organisation, user, quote)
    first.refresh_from_db()
    assert (first.state, second.state, second.number) == ("withdrawn", "sent", 2)
    assert second.shown["options"][0]["total"] != first.shown["options"][0]["total"]
    after = QuoteVersion.objects.defer(None).filter(pk=first.pk).values().get()
    assert after | {"state": "sent"} == before


@pytest.mark.parametrize(
    "change",
    ["shown = '{}'", "pdf = workbook", "sha256 = workbook_sha256", "valid_until = '2040-01-01'", "number = 7"],
)
def test_nothing_of_it_changes_by_sql(organisation, user, change):
    _, quote = quoted(organisation, user, ("48'",))
    version = sent(organisation, user, quote)
    for sql in (
        f"UPDATE quotes_quoteversion SET {change} WHERE id = %s",
        "DELETE FROM quotes_quoteversion WHERE id = %s",
    ):
        with pytest.raises(DatabaseError), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(sql, [version.pk])


def test_what_cannot_be_sent_is_refused_in_words(organisation, user):
    _, quote, option = begin(organisation, user)
    with pytest.raises(ValidationError, match="Option 1 has no house"):
        sent(organisation, user, quote)
    option.unpriced = [{"what": "Film 24 x 100", "why": "", "do": ""}]
    option.save()
    with pytest.raises(ValidationError, match="Film 24 x 100 has no price"):
        sent(organisation, user, quote)
    option.delete()
    with pytest.raises(ValidationError, match="no option yet"):
        sent(organisation, user, quote)
    _, quote = quoted(organisation, user, ("48'",))
    for days, words in ((-1, "is over"), (400, "within a year")):
        with pytest.raises(ValidationError, match=words):
            sent(organisation, user, quote, days=days)
    assert not QuoteVersion.objects.exists()


def test_who_may_send(organisation, user):
    _, quote = quoted(organisation, user, ("48'",))
    yard = MembershipFactory(organisation=organisation, role=Role.YARD).user
    until = today_of(organisation=organisation) + timedelta(days=3)
    with pytest.raises(NotAllowed):
        send_quote(organisation=organisation, user=yard, quote=quote, valid_until=until)
    version = sent(organisation, user, quote)
    with pytest.raises(NotAllowed):
        withdraw_version(organisation=organisation, user=yard, version=version)
    assert withdraw_version(organisation=organisation, user=user, version=version).state == "withdrawn"
    with pytest.raises(ValidationError, match="does not hold any more"):
        withdraw_version(organisation=organisation, user=user, version=version)


def test_an_offer_holds_from_today_to_a_year():
    today = date(2027, 3, 1)
    for days in (0, MAX_DAYS):
        check_valid_until(today + timedelta(days=days), today)
    for days, words in ((-1, "is over"), (MAX_DAYS + 1, "within a year")):
        with pytest.raises(ValidationError, match=words):
            check_valid_until(today + timedelta(days=days), today)
