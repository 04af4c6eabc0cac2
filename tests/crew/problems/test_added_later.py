"""Photos added to a problem after it was recorded: who and when, the limits of the first ones, and once."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from io import BytesIO
from threading import Barrier

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, connection, transaction
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from farmbuild.common.templatetags.farm import moment
from farmbuild.crew.models import Actual, ProblemPhoto
from farmbuild.crew.problems import services
from farmbuild.crew.problems.pictures import read_picture
from tests.crew.daylist.test_ticks import a_day, text_of
from tests.crew.problems.making import COMMENT, MAKER, PLACE, a_photo, a_problem, encoded, upload
from tests.factories import MembershipFactory

pytestmark = pytest.mark.django_db


def plain(colour) -> bytes:
    return encoded(Image.new("RGB", (40, 30), colour))


def picture(colour):
    return read_picture(plain(colour))


@pytest.fixture
def problem(organisation, user):
    person, task = a_day(organisation)
    return a_problem(person, task, user=user)


def page_of(problem):
    return reverse("crew:problem", args=[problem.pk])


def add(client, problem, *files, **more):
    return client.post(f"{page_of(problem)}photos/", {"photos": list(files)} | more, follow=True)


def test_a_photo_is_added_later_with_who_and_when_and_nothing_of_its_metadata(client, organisation, problem):
    other = MembershipFactory(organisation=organisation).user
    client.force_login(other)
    assert "Add a photo" in text_of(client.get(page_of(problem)))
    before = timezone.now()
    sent = add(client, problem, upload(a_photo(orientation=6, size=(800, 600))), once="one")
    assert sent.redirect_chain[-1][0] == page_of(problem)
    first, second = problem.photos.order_by("position")
    assert (first.added_at, first.added_by) == (None, None)
    assert (second.position, second.added_by, second.width, second.height) == (2, other, 600, 800)
    assert before <= second.added_at <= timezone.now()
    for data in (bytes(second.data), bytes(second.thumbnail)):
        assert not any(mark in data for mark in (MAKER, PLACE, COMMENT, b"Exif"))
        assert Image.open(BytesIO(data)).format == "JPEG"
    for page in (page_of(problem), reverse("crew:photo", args=[second.pk])):
        assert f"Added on {moment(second.added_at)} by {other.username}." in text_of(client.get(page)), page
    assert "Added on" not in text_of(client.get(reverse("crew:photo", args=[first.pk])))
    # The same form once more, and the same photo in a form of its own.
    add(client, problem, upload(a_photo(orientation=6, size=(800, 600))), once="one")
    again = add(client, problem, upload(a_photo(orientation=6, size=(800, 600))), once="two")
    assert "is with the problem already" in text_of(again)
    assert problem.photos.count() == 2


def test_a_corrected_problem_takes_photos_too(signed_in, organisation, user, problem):
    services.resolve(organisation=organisation, user=user, actual=problem, how="bent again")
    assert "Add a photo" in text_of(signed_in.get(page_of(problem)))
    add(signed_in, problem, upload(plain("blue")))
    assert problem.photos.count() == 2


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ([], "Choose a photo"),
        ([upload(b"not a picture", "notes.png", "image/png")], "notes.png"),
        ([upload(plain(colour)) for colour in ("red", "lime", "blue", "black")], "Choose 3 at most"),
        ([upload(plain("red")), upload(plain("red"))], "is with the problem already"),
    ],
    ids=["none", "no picture", "too many", "twice"],
)
def test_what_cannot_be_added_is_said_at_the_field_and_nothing_is(signed_in, problem, files, words):
    for file in files:
        file.seek(0)
    answer = add(signed_in, problem, *files)
    assert words in text_of(answer).replace("“", "").replace("”", "")
    assert answer.context["photo_form"].errors["photos"]
    assert problem.photos.count() == 1


def test_a_removed_photo_keeps_its_place_and_a_full_problem_takes_none(signed_in, organisation, user, problem):
    given = {"organisation": organisation, "user": user}
    services.add_photos(**given, actual=problem, pictures=[picture("red"), picture("lime"), picture("blue")])
    services.remove_photo(**given, photo=problem.photos.get(position=3), reason="another house")
    with pytest.raises(ValidationError, match="Say it as a new problem"):
        services.add_photos(**given, actual=problem, pictures=[picture("black")])
    page = add(signed_in, problem, upload(plain("black")))
    assert "Say it as a new problem instead" in text_of(page)
    assert "Add a photo" not in text_of(page)
    assert problem.photos.count() == 4


def test_whoever_added_it_takes_it_away(client, organisation, user, problem):
    other = MembershipFactory(organisation=organisation).user
    services.add_photos(organisation=organisation, user=other, actual=problem, pictures=[picture("red")])
    photo = problem.photos.get(position=2)
    assert services.may_remove_photo(user=other, photo=photo)
    third = MembershipFactory(organisation=organisation, role="crew").user
    assert not services.may_remove_photo(user=third, photo=photo)
    # The owner plans here.
    assert services.may_remove_photo(user=user, photo=photo)
    assert services.may_remove_photo(user=user, photo=problem.photos.get(position=1))


def test_of_others_of_archived_houses_and_without_words_is_not_found(client, signed_in, user, organisation, problem):
    stranger = MembershipFactory()
    given = {"actual": problem, "pictures": [picture("red")]}
    with pytest.raises(Actual.DoesNotExist):
        services.add_photos(organisation=stranger.organisation, user=stranger.user, **given)
    client.force_login(stranger.user)
    assert add(client, problem, upload()).status_code == 404
    client.force_login(user)
    house = problem.task.house
    house.archived_at = timezone.now()
    house.save()
    with pytest.raises(Actual.DoesNotExist):
        services.add_photos(organisation=organisation, user=user, **given)
    assert add(client, problem, upload()).status_code == 404
    assert problem.photos.count() == 1


def test_the_database_knows_who_with_when(organisation, user, problem):
    photo = problem.photos.get()
    for wrong in ({"added_at": timezone.now()}, {"added_by": user}):
        with pytest.raises(IntegrityError), transaction.atomic():
            ProblemPhoto.objects.create(
                organisation=organisation, actual=problem, position=2, data=b"x", thumbnail=b"x",
                sha256=photo.sha256, width=1, height=1, **wrong,
            )  # fmt: skip


@pytest.mark.django_db(transaction=True)
@pytest.mark.postgres
def test_of_many_who_add_at_once_no_more_than_four_are_kept():
    member = MembershipFactory()
    person, task = a_day(member.organisation)
    problem = a_problem(person, task, user=member.user)
    gate = Barrier(6, timeout=30)
    pictures = [picture((40 * n, 0, 0)) for n in range(6)]

    def work(one):
        try:
            gate.wait()
            services.add_photos(organisation=member.organisation, user=member.user, actual=problem, pictures=[one])
            return True
        except ValidationError:
            return False
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as pool:
        assert sum(pool.map(work, pictures)) == 3
    assert sorted(problem.photos.values_list("position", flat=True)) == [1, 2, 3, 4]
