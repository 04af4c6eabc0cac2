"""Photos with what was recorded: kept once, guarded by the database, given out to their organisation alone."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from hashlib import sha256
from io import BytesIO
from threading import Barrier
from uuid import uuid4

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from farmbuild.crew.models import MAX_PHOTOS, Actual, ProblemPhoto, ProblemSettled, Task
from farmbuild.crew.problems import services
from farmbuild.crew.problems.forms import PhotosField
from farmbuild.crew.problems.pictures import read_picture
from tests.crew.daylist.test_ticks import a_day, press, text_of
from tests.crew.problems.making import COMMENT, MAKER, PLACE, a_photo, a_problem, upload
from tests.factories import MembershipFactory

pytestmark = pytest.mark.django_db


def tick(client, task, person=None, *, json=True, **form):
    given = {"key": str(uuid4()), "what": "stop", "person": person.slug if person else ""} | form
    headers = {"accept": "application/json"} if json else {}
    return client.post(reverse("crew:day-tick", args=[task.pk]), given, headers=headers)


def test_a_photo_is_kept_with_its_problem_and_nothing_of_its_metadata(signed_in, organisation):
    person, task = a_day(organisation)
    sent = a_photo(orientation=6)
    assert MAKER in sent and PLACE in sent
    answer = tick(signed_in, task, person, problem="bent the wrong way", photos=upload(sent))
    assert answer.json()["kept"]
    photo = Actual.objects.get().photos.get()
    assert (photo.organisation, photo.position, photo.width, photo.height) == (organisation, 1, 300, 400)
    assert photo.sha256 == sha256(photo.data).hexdigest()
    for data in (bytes(photo.data), bytes(photo.thumbnail)):
        assert not any(mark in data for mark in (MAKER, PLACE, COMMENT, b"Exif"))
        assert Image.open(BytesIO(data)).format == "JPEG"


def test_the_same_press_sent_again_is_one_record_with_one_photo(signed_in, organisation):
    person, task = a_day(organisation)
    key = str(uuid4())
    for _ in range(3):
        assert tick(signed_in, task, person, key=key, problem="bent", photos=upload()).json()["kept"]
    assert (Actual.objects.count(), ProblemPhoto.objects.count()) == (1, 1)


@pytest.mark.django_db(transaction=True)
def test_the_same_press_sent_at_once_is_one_record_with_one_photo():
    person, task = a_day(MembershipFactory().organisation)
    key, gate, picture = uuid4(), Barrier(6, timeout=30), read_picture(a_photo())

    def work(_):
        try:
            gate.wait()
            return press(person, task, "stop", key=key, problem="bent", pictures=[picture]).pk
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as pool:
        kept = set(pool.map(work, range(6)))
    assert kept == {Actual.objects.get().pk} and ProblemPhoto.objects.count() == 1


def test_up_to_four_photos_go_with_one_problem(signed_in, organisation):
    person, task = a_day(organisation)
    four = [upload(name=f"{n}.jpg") for n in range(4)]
    assert tick(signed_in, task, person, problem="bent", photos=four).json()["kept"]
    assert list(ProblemPhoto.objects.values_list("position", flat=True)) == [1, 2, 3, 4]
    five = [upload(name=f"{n}.jpg") for n in range(5)]
    answer = tick(signed_in, task, person, problem="bent", photos=five)
    assert answer.status_code == 422 and answer.json()["fields"] == {"photos": services.TOO_MANY}
    assert Actual.objects.count() == 1
    picture = read_picture(a_photo())
    with pytest.raises(ValidationError, match="Up to 4 photos"):
        press(person, task, "stop", problem="bent", pictures=[picture] * 5)
    with pytest.raises(ValidationError, match="Say in a few words"):
        press(person, task, "stop", pictures=[picture])
    task.refresh_from_db()
    assert (Actual.objects.count(), ProblemPhoto.objects.count()) == (1, 4)


@pytest.mark.parametrize(
    ("form", "field", "words"),
    [
        ({"problem": "bent", "photos": upload(b"GIF89a", "yard.gif")}, "photos", "“yard.gif” is no JPEG, PNG or WebP"),
        ({"problem": "bent", "photos": upload(a_photo((900, 900))[:4000])}, "photos", "“field.jpg” is damaged"),
        (
            {"problem": "bent", "photos": upload(b"\0\0\0\x18ftypheic", "IMG_1.HEIC")},
            "photos",
            "Set the camera to JPEG",
        ),
        ({"problem": " ", "photos": upload()}, "problem", "Say in a few words what the photo shows"),
        ({"problem": "x" * 401}, "problem", "at most 400 letters"),
        ({"problem": "bent", "done": "some", "photos": upload()}, "done", "whole number"),
    ],
    ids=["gif", "cut", "heic", "no words", "long", "count"],
)
def test_what_is_wrong_is_said_at_its_field_and_nothing_typed_is_lost(signed_in, organisation, form, field, words):
    person, task = a_day(organisation)
    for file in filter(None, [form.get("photos")]):
        file.seek(0)
    answer = tick(signed_in, task, person, **form)
    assert answer.status_code == 422 and words in answer.json()["fields"][field]
    for file in filter(None, [form.get("photos")]):
        file.seek(0)
    key = str(uuid4())
    page = tick(signed_in, task, person, json=False, key=key, people="7", **form)
    assert page.status_code == 422 and not Actual.objects.exists()
    text = text_of(page)
    part = text.split(f'data-field="{field}"')[1].split('data-field="')[0]
    assert words in part
    assert f'value="{key}"' in text and 'value="7"' in text
    if form["problem"].strip():
        assert f'value="{form["problem"]}"' in text
    if "photos" in form:
        assert "Choose the photos again" in text


@pytest.mark.parametrize("more", [0, 1])
def test_more_photos_than_are_taken_are_not_even_read(more):
    files = [BytesIO(b"no picture") for _ in range(MAX_PHOTOS + more)]
    for file in files:
        file.name = "a.jpg"
    with pytest.raises(ValidationError) as refused:
        PhotosField().clean(files)
    assert [file.tell() > 0 for file in files] == [not more] * len(files)
    assert len(refused.value.messages) == (1 if more else MAX_PHOTOS)


def test_a_form_sent_to_a_task_that_has_moved_says_so_above(signed_in, organisation):
    person, task = a_day(organisation)
    form = {"json": False, "problem": "bent", "day": "2087-01-06", "photos": upload(b"x")}
    assert "no JPEG, PNG or WebP" in text_of(tick(signed_in, task, person, **form))
    assert tick(signed_in, task, json=False, done="x")["Location"] == "/crew/day/"
    assert signed_in.get(reverse("crew:day-tick", args=[task.pk]))["Location"] == "/crew/day/"


def test_a_photo_is_given_to_its_organisation_alone(signed_in, client, organisation, django_user_model):
    person, task = a_day(organisation)
    photo = a_problem(person, task).photos.get()
    addresses = [reverse(f"crew:{name}", args=[photo.pk]) for name in ("photo-whole", "photo-small", "photo")]
    addresses.append(reverse("crew:problem", args=[photo.actual_id]))
    assert [signed_in.get(address).status_code for address in addresses] == [200] * 4
    client.force_login(MembershipFactory().user)
    assert [client.get(address).status_code for address in addresses] == [404] * 4
    assert [client.post(address, {"reason": "x", "how": "x"}).status_code for address in addresses[2:]] == [404] * 2
    assert "bent the wrong way" not in text_of(client.get("/crew/problems/"))
    client.logout()
    assert [client.get(address).status_code for address in addresses] == [302] * 4
    photo.refresh_from_db()
    assert photo.removed_at is None and not ProblemSettled.objects.exists()


def test_a_photo_of_an_archived_house_is_not_there(signed_in, organisation):
    person, task = a_day(organisation)
    photo = a_problem(person, task).photos.get()
    task.house.archived_at = timezone.now()
    task.house.save()
    assert signed_in.get(reverse("crew:photo-whole", args=[photo.pk])).status_code == 404
    assert signed_in.get(reverse("crew:problem", args=[photo.actual_id])).status_code == 404
    assert "No problem is open" in text_of(signed_in.get("/crew/problems/"))


def test_the_bytes_come_as_a_picture_and_nothing_else(signed_in, organisation):
    person, task = a_day(organisation)
    photo = a_problem(person, task).photos.get()
    for name, kept in (("photo-whole", photo.data), ("photo-small", photo.thumbnail)):
        address = reverse(f"crew:{name}", args=[photo.pk])
        answer = signed_in.get(address)
        assert answer.content == bytes(kept)
        assert answer["Content-Type"] == "image/jpeg" and answer["X-Content-Type-Options"] == "nosniff"
        assert set(answer["Cache-Control"].split(", ")) == {"private", "no-cache"}
        assert "default-src 'self'" in answer["Content-Security-Policy"]
        with CaptureQueriesContext(connection) as asked:
            again = signed_in.get(address, headers={"if-none-match": answer["ETag"]})
        assert (again.status_code, again.content, again["ETag"]) == (304, b"", answer["ETag"])
        assert not any('"data"' in query["sql"] or '"thumbnail"' in query["sql"] for query in asked)
        assert signed_in.head(address).status_code == 200
        assert signed_in.post(address).status_code == 405
    etags = {signed_in.get(reverse(f"crew:{name}", args=[photo.pk]))["ETag"] for name in ("photo-whole", "photo-small")}
    assert len(etags) == 2


def test_a_photo_that_was_changed_behind_is_not_given_out(signed_in, organisation):
    person, task = a_day(organisation)
    photo = a_problem(person, task).photos.get()
    from farmbuild.crew.problems import selectors

    changed = bytes(photo.data[:-1]) + b"\0"
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(selectors, "sha256", lambda data: sha256(changed))
        answer = signed_in.get(reverse("crew:photo-whole", args=[photo.pk]))
    assert answer.status_code == 500 and b"checksum is another" in answer.content


def test_pages_of_problems_read_no_bytes(signed_in, organisation):
    person, task = a_day(organisation)
    problem = a_problem(person, task, photos=2)
    photo = problem.photos.first()
    pages = [
        "/crew/problems/",
        reverse("crew:problem", args=[problem.pk]),
        reverse("crew:photo", args=[photo.pk]),
        reverse("crew:task", args=[task.pk]),
        f"/crew/day/?person={person.slug}",
    ]
    for page in pages:
        with CaptureQueriesContext(connection) as asked:
            text = text_of(signed_in.get(page))
        assert "bent the wrong way" in text and f"/crew/photos/{photo.pk}/" in text, page
        assert not any('"data"' in query["sql"] or '"thumbnail"' in query["sql"] for query in asked), page


def test_photos_are_told_to_who_cannot_see_them(signed_in, organisation):
    person, task = a_day(organisation)
    one = a_problem(person, task, "Bent the wrong way.")
    two = a_problem(person, task, "split <open>", photos=2)
    on = f"{timezone.localtime(one.when).day} {timezone.localtime(one.when):%B %Y}"
    for page in ("/crew/problems/", f"/crew/day/?person={person.slug}", reverse("crew:task", args=[task.pk])):
        text = text_of(signed_in.get(page))
        assert f'alt="Photo with the problem: Bent the wrong way, {on}"' in text, page
        assert f'alt="Photo 2 of 2 with the problem: split &lt;open&gt;, {on}"' in text, page
    assert "with 1 photo<" in text_of(signed_in.get(reverse("crew:problem", args=[one.pk])))
    assert "with 2 photos<" in text_of(signed_in.get(reverse("crew:problem", args=[two.pk])))


def test_whoever_added_a_photo_takes_it_away_and_the_fact_stays(signed_in, organisation, user):
    person, task = a_day(organisation)
    problem = a_problem(person, task, user=user, photos=2)
    photo = problem.photos.first()
    page = reverse("crew:photo", args=[photo.pk])
    assert "Say why in a few words" in text_of(signed_in.post(page, {"reason": " "}))
    photo.refresh_from_db()
    assert photo.removed_at is None
    sent = signed_in.post(page, {"reason": "shows another house"}, follow=True)
    words = f"by {user.username}: shows another house"
    assert words in text_of(sent) and "with 1 photo<" in text_of(sent)
    photo.refresh_from_db()
    assert (photo.data, photo.thumbnail, photo.removed_by) == (None, None, user)
    assert [signed_in.get(page + name).status_code for name in ("whole.jpg", "small.jpg")] == [404, 404]
    assert (
        words in text_of(signed_in.get(page))
        and "<form" not in text_of(signed_in.get(page)).split("<main")[1].split("</main>")[0]
    )
    with pytest.raises(ValidationError, match="removed already"):
        services.remove_photo(organisation=organisation, user=user, photo=photo, reason="again")
    # The same press from a device that had no answer brings it back no more.
    a_problem(person, task, user=user, photos=2, key=problem.key)
    assert ProblemPhoto.objects.filter(removed_at=None).count() == 1


def test_others_do_not_take_it_away_but_planners_do(client, organisation, user):
    person, task = a_day(organisation)
    photo = a_problem(person, task, user=user).photos.get()
    seat = MembershipFactory(organisation=organisation, role="crew")
    other = seat.user
    client.force_login(other)
    page = reverse("crew:photo", args=[photo.pk])
    assert "Take this photo away" not in text_of(client.get(page))
    assert "Only the person who added this photo" in text_of(client.post(page, {"reason": "x"}, follow=True))
    photo.refresh_from_db()
    assert photo.removed_at is None
    # Staff of the server are nobody here.
    other.is_staff = True
    other.save()
    assert "Take this photo away" not in text_of(client.get(page))
    seat.role = "planner"
    seat.save()
    assert "Take this photo away" in text_of(client.get(page))
    client.post(page, {"reason": "a face"})
    photo.refresh_from_db()
    assert photo.removed_by == other
    # What is gone is taken away by nobody.
    assert [services.may_remove_photo(user=each, photo=photo) for each in (user, other)] == [False, False]


def test_a_problem_is_put_right_once_and_leaves_the_list(signed_in, organisation, user):
    person, task = a_day(organisation)
    problem = a_problem(person, task)
    assert "1 problem to correct" in text_of(signed_in.get("/crew/problems/"))
    page = reverse("crew:problem", args=[problem.pk])
    assert "Say in a few words how" in text_of(signed_in.post(page, {"how": ""}))
    signed_in.post(page, {"how": "bent again"})
    assert "No problem is open" in text_of(signed_in.get("/crew/problems/"))
    assert "bent the wrong way" in text_of(signed_in.get("/crew/problems/?settled=1"))
    assert f"by {user.username}: bent again" in text_of(signed_in.get(page))
    assert "bent the wrong way" not in text_of(signed_in.get(f"/crew/day/?person={person.slug}"))
    assert "corrected already" in text_of(signed_in.post(page, {"how": "twice"}))
    with pytest.raises(ValidationError, match="corrected already"):
        services.resolve(organisation=organisation, user=user, actual=problem, how="twice")
    assert ProblemSettled.objects.get().how == "bent again"


def refused(act) -> bool:
    try:
        with transaction.atomic():
            act()
    except IntegrityError:
        return True
    return False


def test_what_must_never_be_false_is_refused_by_the_database(organisation, user):
    person, task = a_day(organisation)
    problem, plain = a_problem(person, task), press(person, task, "stop")
    elsewhere = MembershipFactory().organisation
    photo = problem.photos.get()
    picture = read_picture(a_photo())

    def make(**given):
        row = {"organisation": organisation, "actual": problem, "position": 2, "data": picture.data}
        row |= {"thumbnail": picture.thumbnail, "sha256": "0" * 64, "width": 4, "height": 3}
        return lambda: ProblemPhoto.objects.create(**row | given)

    assert not refused(make())
    wrong = [
        {"actual": plain},
        {"organisation": elsewhere, "position": 3},
        {"position": 1},
        {"position": 5},
        {"position": 0},
        {"position": 3, "data": None},
        {"position": 3, "removed_at": timezone.now()},
        {"position": 3, "sha256": "short"},
        {"position": 3, "width": 0},
    ]
    assert [refused(make(**given)) for given in wrong] == [True] * len(wrong)
    rows = ProblemPhoto.objects.filter(pk=photo.pk)
    for change in ({"data": b"other"}, {"position": 3}, {"sha256": "1" * 64}, {"removed_at": timezone.now()}):
        assert refused(lambda change=change: rows.update(**change)), change
    services.remove_photo(organisation=organisation, user=problem.by or staff(user), photo=photo, reason="x")
    back = {"data": picture.data, "thumbnail": picture.thumbnail, "removed_at": None, "removed_reason": ""}
    assert refused(lambda: rows.update(**back)) and refused(lambda: rows.update(removed_reason="y"))

    def settled(**given):
        row = {"organisation": organisation, "actual": problem, "how": "bent again"} | given
        return lambda: ProblemSettled.objects.create(**row)

    assert [refused(settled(**given)) for given in ({"actual": plain}, {"how": ""}, {"organisation": elsewhere})] == [
        True
    ] * 3
    assert not refused(settled()) and refused(settled())
    assert refused(lambda: ProblemSettled.objects.update(how="otherwise"))
    assert Task.objects.get(pk=task.pk).state == Task.State.STARTED


def staff(user):
    user.is_staff = True
    user.save()
    return user
