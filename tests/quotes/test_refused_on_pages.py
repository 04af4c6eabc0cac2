"""What cannot be, typed into pages: refused in words at its field, and nothing of it is done."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from farmbuild.quotes.models import Acceptance, Bill, ChangeOrder, QuoteLine, QuoteVersion, ToCome
from tests.quotes.agreed import accepted_job, goods, staged
from tests.quotes.sent import quoted, sent
from tests.quotes.typing import Typing
from tests.reading import text_of

pytestmark = pytest.mark.django_db
D = Decimal


def refused(answer, field: str, words: str) -> None:
    assert answer.status_code == 200
    errors = answer.context["form"].errors
    assert words in " ".join(errors.get(field, [])), dict(errors)


def test_a_quote_once_it_is_sent_and_once_it_is_accepted(signed_in, organisation, user):
    typing = Typing(signed_in)
    _, quote = quoted(organisation, user, ("48'",))
    version = sent(organisation, user, quote)
    told = version.shown["options"][0]["total"]
    assert "Changed since version" not in typing.page("quotes:quote", 1)
    typing.form("quotes:line-new", 1, 1, kind="hours", what="Levelling", quantity="3")
    assert QuoteVersion.objects.get().shown["options"][0]["total"] == told
    assert "Changed since version 1 went out." in typing.page("quotes:quote", 1)
    late = version.valid_until + timedelta(days=1)
    answer = typing.send("quotes:accept-behalf", 1, 1, name="Ada", how="by letter", day=late.isoformat())
    refused(answer, "__all__", f"This quote held until {version.valid_until.day} ")
    assert not Acceptance.objects.exists()
    typing.form("quotes:accept-behalf", 1, 1, name="Ada", how="by letter")
    assert "Changed since version" not in typing.page("quotes:quote", 1)
    refused(typing.send("quotes:accept-behalf", 1, 1, name="Ben", how="x"), "__all__", "Ada accepted Option 1 already")
    lines = QuoteLine.objects.count()
    for page, args, typed in (
        ("quotes:quote-edit", (1,), {"margin": "10"}),
        ("quotes:line-new", (1, 1), {"kind": "hours", "what": "More", "quantity": "1"}),
        ("quotes:option-new", (1,), {"name": "Longer"}),
        ("quotes:send", (1,), {}),
    ):
        refused(typing.send(page, *args, **typed), "__all__", "What changes now is a change order")
    for page, args in (("quotes:option-price", (1, 1)), ("quotes:withdraw", (1, 1)), ("quotes:quote-new", (1,))):
        assert "This job is accepted" in text_of(typing.press(page, *args))
    assert (QuoteLine.objects.count(), QuoteVersion.objects.count(), quote.options.count()) == (lines, 1, 1)
    quote.refresh_from_db()
    assert quote.margin == 18


def test_a_quote_without_a_house_is_not_sent(signed_in, organisation, user):
    _, quote = quoted(organisation, user, ("48'",))
    quote.options.get().houses.all().delete()
    answer = Typing(signed_in).send("quotes:send", 1)
    refused(answer, "__all__", "Option 1 has no house. Add one, or take the option out.")
    assert not QuoteVersion.objects.exists()


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"amount": "10000"}, "amount", "This is above the contract: ¥9,999 of it is not billed yet"),
        ({"amount": "10.5"}, "amount", "JPY has no coins as small as that."),
        ({"amount": "0"}, "amount", "¥9,999 of the contract is left to bill"),
        ({"amount": "-5"}, "amount", "below zero"),
        ({"amount": "many"}, "amount", "is not an amount of money"),
        ({"day": "2026-09-02"}, "day", "The quote was accepted on 3 September 2026."),
        ({"day": "tomorrow"}, "day", "cannot be read"),
    ],
)
def test_bills_that_cannot_be(signed_in, organisation, user, typed, field, words):
    organisation.currency = "JPY"
    organisation.save()
    staged(accepted_job(organisation, user, [goods("Film", 3, "3333")], rates=ONLY_GOODS), (50, 50))
    refused(Typing(signed_in).send("quotes:bill-new", 1, query="?stage=1", **typed), field, words)
    assert not Bill.objects.exists()


ONLY_GOODS = dict.fromkeys(
    ("labour", "overhead", "contingency", "margin", "waste", "tax_materials", "tax_work", "tax_equipment"), "0"
)


def test_a_change_that_takes_away_more_than_there_is(signed_in, organisation, user):
    typing = Typing(signed_in)
    accepted_job(organisation, user, [goods("Film", 3, "3333")], rates=ONLY_GOODS)
    typing.form("quotes:change-new", 1, what="Nothing of it")
    refused(typing.send("quotes:change-send", 1, 1), "__all__", "Nothing stands on this change order yet.")
    for typed, field, words in (
        ({"quantity": "0", "price": "1"}, "quantity", "below 0 takes away"),
        ({"quantity": "1", "price": "-1"}, "price", "0 or more"),
        ({"quantity": "1", "price": ""}, "price", "0 or more"),
        ({"quantity": "1", "price": "1", "what": ""}, "what", "Type what it is."),
        ({"quantity": "1", "price": "1", "length": "3'"}, "length", "Choose the material that is so long"),
        ({"quantity": "1", "price": "1", "step": "set"}, "step", "Only hours are of a kind of work"),
        ({"quantity": "1.0005", "price": "1"}, "quantity", "up to three decimals"),
    ):
        refused(typing.send("quotes:change", 1, 1, **{"kind": "goods", "what": "Film"} | typed), field, words)
    typing.form("quotes:change", 1, 1, kind="goods", what="Film", quantity="-4", price="3333")
    refused(typing.send("quotes:change-send", 1, 1), "__all__", "It takes away more than is agreed: $9,999.00")
    assert ChangeOrder.objects.get().state == "draft"
    typing.press("quotes:change-line-remove", 1, 1, 0)
    typing.form("quotes:change", 1, 1, kind="goods", what="Film", quantity="-3", price="3333")
    typing.form("quotes:change-send", 1, 1)
    typing.form("quotes:change-answer", 1, 1, accept="yes", name="Ada", how="by letter")
    assert "All is billed." in typing.page("quotes:job-bills", 1)
    typing.form("quotes:change-new", 1, what="Once more")
    typing.form("quotes:change", 1, 2, kind="goods", what="Film", quantity="-1", price="1")
    refused(typing.send("quotes:change-send", 1, 2), "__all__", "It takes away more than is agreed: $0.00")


def test_still_to_come_in_coins_that_there_are(signed_in, organisation, user):
    organisation.currency = "KWD"
    organisation.save()
    accepted_job(organisation, user, [goods("Film", 3, "333.3335")])
    typing = Typing(signed_in)
    for amount, words in (
        ("1.0005", "KWD has no coins as small as that."),
        ("-1", "below zero"),
        ("x", "not an amount"),
    ):
        refused(typing.send("quotes:to-come", 1, amount=amount, reason="So"), "amount", words)
    refused(typing.send("quotes:to-come", 1, amount="1.005"), "reason", "Say why")
    assert not ToCome.objects.exists()
    typing.form("quotes:to-come", 1, amount="1.005", reason="The ends take longer")
    assert "KWD 1.005" in typing.page("quotes:against", 1)
