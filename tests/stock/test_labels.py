"""Labels: what the code says when it is read back, whose lots are printed, and where a label leads."""

from __future__ import annotations

import re

import pytest
from django.conf import settings
from django.urls import reverse

from farmbuild.common.qr import QUIET, code_of, code_svg
from farmbuild.stock.counts.services import start_count
from farmbuild.stock.labels.sizes import PAPER, SIZES
from tests.factories import FOOT, LotFactory, MaterialFactory, MembershipFactory, PlaceFactory
from tests.stock.qr_reader import Unreadable, read_modules

LABELS = reverse("stock:labels")


@pytest.fixture
def lot(organisation):
    rail = MaterialFactory(organisation=organisation, name="1-3/8 rail")
    rack = PlaceFactory(organisation=organisation, name="Barn rack")
    return LotFactory(material=rail, place=rack, reference="RACK-1", length=FOOT * 10)


def modules_of(svg: str) -> list[list[bool]]:
    """The dark modules that the path of a drawing covers; its box is in modules, the quiet zone with it."""
    size = int(re.search(r'viewBox="0 0 (\d+) \1"', svg)[1])
    found = [[False] * size for _ in range(size)]
    x = y = 0.0
    path = re.search(r'<path stroke="#000" d="([^"]+)"', svg)[1]
    for command, arguments in re.findall(r"([Mmh])([-\d. ]+)", path):
        numbers = [float(text) for text in arguments.split()]
        if command == "M":
            x, y = numbers
        elif command == "m":
            x, y = x + numbers[0], y + numbers[1]
        else:
            for column in range(int(x), int(x + numbers[0])):
                found[int(y)][column] = True
            x += numbers[0]
    return found


def without_quiet_zone(modules: list[list[bool]]) -> list[list[bool]]:
    size = len(modules)
    inside = [row[QUIET : size - QUIET] for row in modules[QUIET : size - QUIET]]
    assert sum(map(sum, modules)) == sum(map(sum, inside)), "the quiet zone is not white"
    return inside


@pytest.mark.parametrize(
    "address",
    [
        "http://a.b/l/1/",
        "http://192.168.1.20:8000/l/RACK-1/",
        "https://stock.larkspur.example/l/L-0001/",
        "https://stock.larkspur.example/l/caf%C3%A9%20rail%20(2027)/",
        "https://a-rather-long-name-of-a-host.of-some-cooperative.example/l/A-LONG-REFERENCE-OF-THIRTY/",
    ],
)
def test_a_code_reads_back_as_its_address(address):
    text, level = read_modules(without_quiet_zone(modules_of(code_svg(address, about="a lot"))))
    assert (text, level) == (address, "M")
    assert QUIET >= 4


def test_the_reader_sees_one_wrong_module():
    """So that the test above can fail."""
    modules = [[bool(module) for module in row] for row in code_of("http://a.b/l/1/").matrix]
    assert read_modules(modules)[0] == "http://a.b/l/1/"
    modules[12][12] = not modules[12][12]
    with pytest.raises(Unreadable):
        read_modules(modules)


@pytest.mark.django_db
def test_labels_of_a_place_lead_to_their_lots(signed_in, organisation, lot):
    odd = LotFactory(material=lot.material, place=lot.place, reference="Café/2 #b", length=None)
    empty = LotFactory(material=lot.material, place=lot.place, on_hand=0)
    page = signed_in.get(LABELS, {"place": lot.place_id, "size": "a4-3x8"}).content.decode()
    assert 'class="labels a4-3x8 a4"' in page
    codes = re.findall(r'aria-label="Code of lot ([^"]+)"><svg.*?</svg>', page)
    assert sorted(codes) == ["Café/2 #b", "RACK-1"]
    assert empty.reference not in page
    for svg, reference in zip(re.findall(r"<svg.*?</svg>", page), codes, strict=True):
        address, _ = read_modules(without_quiet_zone(modules_of(svg)))
        assert address.startswith(f"http://testserver/of/{organisation.slug}/l/")
        answer = signed_in.get(address.removeprefix("http://testserver"))
        assert answer.status_code == 200
        assert answer.context["lot"].reference == reference
    assert "style=" not in page
    assert odd.reference in page


@pytest.mark.django_db
def test_labels_of_chosen_lots(signed_in, lot):
    other = LotFactory(material=lot.material, place=lot.place, reference="OTHER")
    page = signed_in.get(LABELS, {"lot": lot.pk}).content.decode()
    assert "Code of lot RACK-1" in page
    assert other.reference not in page


@pytest.mark.django_db
def test_lots_of_others_get_no_label_and_are_not_found(client, lot):
    client.force_login(MembershipFactory().user)
    page = client.get(LABELS, {"lot": lot.pk}).content.decode()
    assert "RACK-1" not in page
    page = client.get(LABELS, {"place": lot.place_id}).content.decode()
    assert "RACK-1" not in page
    assert client.get("/l/RACK-1/").status_code == 404
    assert client.get(reverse("stock:lot-receive", args=[lot.pk])).status_code == 404


@pytest.mark.django_db
def test_two_farms_may_use_the_same_reference(client, lot):
    member = MembershipFactory()
    theirs = LotFactory(material=MaterialFactory(organisation=member.organisation), reference="RACK-1", on_hand=3)
    client.force_login(member.user)
    assert client.get("/l/RACK-1/").context["lot"] == theirs


@pytest.mark.django_db
def test_a_label_asks_to_sign_in_and_then_opens_the_lot(client, user, lot):
    user.set_password("hoops-and-rail")
    user.save()
    asked = client.get("/l/RACK-1/")
    assert asked.url == "/sign-in/?next=/l/RACK-1/"
    form = client.get(asked.url)
    given = {"username": user.username, "password": "hoops-and-rail", "next": form.context["next"]}
    opened = client.post("/sign-in/", given, follow=True)
    assert opened.redirect_chain == [("/l/RACK-1/", 302)]
    assert opened.context["lot"] == lot


@pytest.mark.parametrize("size", SIZES, ids=[size.slug for size in SIZES])
def test_a_sheet_holds_its_labels(size):
    """Inside a margin of 10 mm, and the style sheet has the same figures."""
    width, height = PAPER[size.paper]
    assert size.across * size.width <= width - 20
    assert size.down * size.height <= height - 20
    css = (settings.BASE_DIR / "farmbuild/common/static/farmbuild/labels.css").read_text()
    rule = re.search(rf"\.{size.slug} {{([^}}]+)}}", css)[1]
    assert f"repeat({size.across}, {size.width}mm)" in rule
    assert f"grid-auto-rows: {size.height}mm" in rule


@pytest.mark.django_db
def test_a_label_leads_into_the_open_count_and_on_to_the_next_label(signed_in, organisation, user, lot):
    count = start_count(organisation=organisation, user=user, places=[lot.place], blind=True)
    line = count.lines.get()
    page = signed_in.get("/l/RACK-1/").content.decode()
    address = f"/stock/counts/1/lines/{line.pk}/?label=1"
    assert address in page
    assert "20 sticks" not in page
    answer = signed_in.post(address, {f"lot_{lot.pk}": "18", f"was_{lot.pk}": "", "counted_at": ""})
    assert answer.url == "/l/RACK-1/"
    line.refresh_from_db()
    assert line.counted == 18
    page = signed_in.get(address).content.decode()
    assert "RACK-1: 18 counted." in page
    assert "Stock record then" not in page
