"""Pages of charges and accounts: what they say, their forms, their files, who sees them, and what a member sees."""

from __future__ import annotations

import io
from datetime import date
from decimal import Decimal

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook
from PIL import Image

from farmbuild.coop.charges import services as charges
from farmbuild.coop.models import ChargeRate, Damage, FreeDays, MemberEntry, SentStatement
from farmbuild.coop.statement.services import send_statement
from farmbuild.crew.bookings.photos import add_photos
from farmbuild.crew.models import BookingPhoto
from farmbuild.crew.problems.pictures import read_picture
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Membership
from tests.coop.making import may
from tests.factories import BenderBookingFactory, MemberSignInFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db
D = Decimal


def jpeg(colour="#884422") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (60, 40), colour).save(out, "JPEG")
    return out.getvalue()


def send(client, name, *args, follow=True, **data):
    return client.post(reverse(f"coop:{name}", args=args), data, follow=follow)


def page(client, name, *args, query=""):
    return text_of(client.get(reverse(f"coop:{name}", args=args) + query))


def test_from_a_price_to_a_statement_that_went_out(signed_in, coop):
    assert "No day or pull of a bender has a price yet." in page(signed_in, "charges")
    told = send(signed_in, "charge-rate-new", kind="day", each="12.50", since="2026-01-01")
    assert "The price is set: A day out, every bender." in text_of(told)
    send(signed_in, "free-days", days="1", since="2026-01-01")
    assert (ChargeRate.objects.get().each, FreeDays.objects.get().days) == (D("12.50"), 1)
    assert "1 free day a share" in page(signed_in, "charge-rates")
    booking = coop.back(may(4), may(6))
    shown = signed_in.get(reverse("coop:charges"))
    assert "1 charge to post, $25.00 in all." in text_of(shown)
    seen = shown.context["proposed"].seen
    assert "The charges are posted." in text_of(send(signed_in, "charges-post", seen=seen))
    # Pressed again, or by a second manager with the page open.
    assert "changed since the page was loaded" in text_of(send(signed_in, "charges-post", seen=seen))
    assert coop.owes(coop.alder) == 25
    assert "It is posted." in page(signed_in, "booking", booking.pk)
    told = send(
        signed_in, "payment-new", "alder-patch", paid_out="0", day="2026-05-20", amount="30", how="cash", note="box 3"
    )
    assert "Recorded: Cash of Alder Patch." in text_of(told)
    assert "$5.00 is owed to Alder Patch on 31 May 2026" in page(
        signed_in, "account", "alder-patch", query="?last=2026-05-31"
    )
    told = send(signed_in, "statement-send", "alder-patch", last="2026-05-31")
    assert "S-0001 is numbered and stays as it is." in text_of(told)
    assert "S-0001 went out for these days already" in text_of(
        send(signed_in, "statement-send", "alder-patch", last="2026-05-31")
    )
    assert "Comes to you, $5.00" in page(signed_in, "statement", 1)
    entry = MemberEntry.objects.get(kind="days")
    assert "4 May 2026: 1, 1 free at $12.50" in page(signed_in, "entry", entry.pk)
    assert "It is taken back." in text_of(send(signed_in, "entry", entry.pk, reason="one day only"))
    assert "It is taken back and counts no more." in page(signed_in, "entry", entry.pk)
    assert "taken back already" in text_of(send(signed_in, "entry", entry.pk, reason="again"))
    june = page(signed_in, "account", "alder-patch", query="?first=2026-06-01&last=2026-06-30")
    assert "Balance of statement S-0001" in june
    assert "Taken back: 1 day free and 2 days at $12.50: West" in june and "(of an earlier day, posted since)" in june


def test_an_account_up_to_a_day_of_last_season_begins_with_that_season(signed_in, coop, organisation):
    before = today_of(organisation=organisation).year - 1
    send(signed_in, "payment-new", "alder-patch", paid_out="0", day=f"{before}-05-20", amount="30", how="cash")
    shown = page(signed_in, "account", "alder-patch", query=f"?last={before}-05-31")
    assert f"$30.00 is owed to Alder Patch on 31 May {before}" in shown


def test_a_payment_is_refused_where_it_is_typed(signed_in, coop):
    told = send(signed_in, "payment-new", "alder-patch", paid_out="0", day="2090-01-01", amount="5", how="cash")
    assert "once it is paid" in text_of(told)
    told = send(signed_in, "payment-new", "alder-patch", paid_out="0", day="2026-05-01", amount="5.001", how="cash")
    assert "USD has no coins as small as that." in text_of(told)
    assert MemberEntry.objects.count() == 0


def test_a_bender_comes_back_with_pulls_and_photos_and_damage_is_asked_for(signed_in, coop, organisation):
    today = today_of(organisation=organisation)
    out = BenderBookingFactory(
        bender=coop.west, member=coop.alder, first=today, last=today, state="out", out_at=coop.at(today)
    )
    photos = [SimpleUploadedFile(f"{name}.jpg", jpeg(name), "image/jpeg") for name in ("red", "blue")]
    address = reverse("crew:booking", args=[out.pk])
    bad = SimpleUploadedFile("list.txt", b"no picture", "text/plain")
    told = signed_in.post(address, {"condition": "roller bent", "photos": [bad]}, follow=True)
    assert "is no JPEG, PNG or WebP picture" in text_of(told)
    out.refresh_from_db()
    assert out.state == "out"
    signed_in.post(address, {"condition": "roller bent", "pulls": "44", "photos": photos}, follow=True)
    out.refresh_from_db()
    assert (out.state, out.pulls, out.photos.count()) == ("back", 44, 2)
    assert "See what it comes to" in text_of(signed_in.get(address))
    signed_in.post(reverse("crew:booking-pulls", args=[out.pk]), {"pulls": "45"})
    again = SimpleUploadedFile("red.jpg", jpeg("red"), "image/jpeg")
    told = signed_in.post(reverse("crew:booking-photos", args=[out.pk]), {"photos": [again]}, follow=True)
    assert "This photo is there already." in text_of(told)
    told = send(signed_in, "damage-new", out.pk, what="Roller bent", amount="84.20")
    assert "Damage of West: Roller bent is asked for." in text_of(told)
    damage = Damage.objects.get()
    send(signed_in, "damage-dispute", damage.pk, why="it was so")
    assert "Roller bent: $84.20, disputed." in page(signed_in, "damage", damage.pk)
    send(signed_in, "damage", damage.pk, withdraw="1", answer="seen in March")
    assert coop.owes(coop.alder) == 0
    photo = BookingPhoto.objects.first()
    whole = signed_in.get(reverse("crew:booking-photo-whole", args=[photo.pk]))
    assert whole.headers["Content-Type"] == "image/jpeg" and whole.content[:2] == b"\xff\xd8"
    signed_in.post(reverse("crew:booking-photo", args=[photo.pk]), {"reason": "another bender"})
    assert signed_in.get(reverse("crew:booking-photo-small", args=[photo.pk])).status_code == 404
    assert "A photo was removed on" in text_of(signed_in.get(address))
    photo.refresh_from_db()
    assert photo.data is None and photo.removed_by == coop.who["user"]


def test_files_are_those_of_the_days_asked_for(signed_in, coop):
    coop.rate("day", "12")
    coop.back(may(4), may(6))
    coop.post()
    coop.pay(coop.birch, "5")
    pdf = signed_in.get(reverse("coop:account-pdf", args=["alder-patch"]))
    assert pdf.content.startswith(b"%PDF") and "account-alder-patch.pdf" in pdf.headers["Content-Disposition"]
    days = "?first=2026-01-01&last=2026-05-31"
    book = load_workbook(io.BytesIO(signed_in.get(reverse("coop:accounts-workbook") + days).content))
    assert book.sheetnames == ["All members", "Alder Patch"]
    both = signed_in.get(reverse("coop:accounts-pdfs"))
    assert both.headers["Content-Type"] == "application/zip"
    sent = send_statement(**coop.who, member=coop.alder, last=may(31))
    kept = signed_in.get(reverse("coop:statement-pdf", args=[1]))
    assert kept.content == bytes(sent.pdf)
    # Of a season without an entry there is nothing to give.
    MemberEntry.objects.all()
    assert signed_in.get(reverse("coop:accounts-workbook") + "?last=2020-01-01&first=2020-01-01").status_code == 302


def test_whoever_sees_no_costs_posts_nothing(client, coop, user):
    coop.rate("day", "12")
    coop.back(may(4), may(6))
    Membership.objects.filter(user=user).update(role="yard")
    client.force_login(user)
    for name, args in (("charges", []), ("accounts", []), ("account", ["alder-patch"])):
        assert client.get(reverse(f"coop:{name}", args=args)).status_code == 403
    assert send(client, "charges-post", seen="x").status_code == 403
    assert MemberEntry.objects.count() == 0


class TestMember:
    @pytest.fixture
    def own(self, client, coop):
        """Somebody of Alder Patch, who signs in; Birch Bank has a booking with damage too."""
        coop.rate("day", "12")
        for member, day in ((coop.alder, 4), (coop.birch, 11)):
            booking = coop.back(may(day), may(day + 2), member=member)
            add_photos(**coop.who, booking=booking, photos=[read_picture(jpeg())])
            charges.charge_damage(**coop.who, booking=booking, what=f"bent on {day} May", amount=D(day))
            send_statement(**coop.who, member=member, last=may(31))
        coop.post()
        client.force_login(MemberSignInFactory(member=coop.alder).user)
        self.lender = coop.organisation.slug
        return client

    def test_it_sees_its_own_account_and_nobody_elses(self, own, coop):
        seen = page(own, "seen-account", self.lender)
        assert f"Alder Patch owes ${36 + 4}.00" in seen
        assert "Birch" not in seen and "bent on 11 May" not in seen
        assert own.get(reverse("coop:seen-account-pdf", args=[self.lender])).content.startswith(b"%PDF")
        assert own.get(reverse("coop:seen-account-workbook", args=[self.lender])).status_code == 200
        mine, other = SentStatement.objects.get(member=coop.alder), SentStatement.objects.get(member=coop.birch)
        for row, status in ((mine, 200), (other, 404)):
            for name in ("pdf", "workbook"):
                got = own.get(reverse(f"coop:seen-statement-{name}", args=[self.lender, row.number]))
                assert got.status_code == status
        assert own.get(reverse("coop:seen-account", args=["another"])).status_code == 404
        # Pages of the manager are none of a member.
        for name in ("charges", "accounts"):
            assert own.get(reverse(f"coop:{name}")).status_code == 404

    def test_it_sees_photos_of_its_damage_and_disputes_it(self, own, coop):
        mine = Damage.objects.get(booking__member=coop.alder)
        other = Damage.objects.get(booking__member=coop.birch)
        assert "bent on 4 May: $4.00, asked for." in page(own, "seen-damage", self.lender, mine.pk)
        assert own.get(reverse("coop:seen-damage", args=[self.lender, other.pk])).status_code == 404
        for damage, status in ((mine, 200), (other, 404)):
            photo = damage.booking.photos.get()
            for name in ("seen-photo", "seen-photo-small"):
                assert own.get(reverse(f"coop:{name}", args=[self.lender, photo.pk])).status_code == status
        told = send(own, "seen-damage", self.lender, mine.pk, why="it came so")
        assert "Disputed: it came so" in text_of(told)
        seen = own.get(reverse("crew:own-booking", args=[self.lender, mine.booking_id]))
        assert reverse("coop:seen-photo", args=[self.lender, mine.booking.photos.get().pk]) in text_of(seen)
        assert own.post(reverse("coop:seen-damage", args=[self.lender, other.pk]), {"why": "x"}).status_code == 404
        mine.refresh_from_db()
        assert (mine.state, mine.disputed_why) == ("disputed", "it came so")
        assert coop.owes(coop.alder) == 40

    def test_a_long_account_asks_the_database_as_often_as_a_short_one(self, own, coop):
        def queries():
            with CaptureQueriesContext(connection) as asked:
                assert own.get(reverse("coop:seen-account", args=[self.lender])).status_code == 200
            return len(asked)

        few = queries()
        for day in range(1, 8):
            coop.pay(coop.alder, "1", date(2026, 6, day))
        assert queries() == few
