"""An app is passed over only where none of its addresses can be meant."""

from __future__ import annotations

import re

import pytest
from django.urls import URLResolver, get_resolver, include, path
from django.urls.exceptions import Resolver404
from django.urls.resolvers import RegexPattern

from farmbuild.common.rooms_of_addresses import Room, first_words, room
from tests.upgrades.addresses import patterns


def view(request, **given):
    """Never called."""


IN_ROOMS = [path("inner/", view, name="inner"), path("inner/<slug:a>/more/", view)]


@pytest.mark.parametrize(
    ("routes", "words"),
    [
        ([path("", view), path("a/", view), path("b/<int:pk>/", view), path("c.js", view)], {"", "a", "b", "c.js"}),
        ([path("a/", view), path("", include(IN_ROOMS))], {"a", "inner"}),
        ([path("a/b/", include(IN_ROOMS))], {"a"}),
        ([path("a/", view), path("<slug:any>/", view)], None),
        ([path("a-<int:pk>/", view)], None),
        # Goes on after the word.
        ([path("a", include(IN_ROOMS))], None),
        ([path("a/", view), path("", include([path("<slug:any>/", view)]))], None),
        ([URLResolver(RegexPattern("^a/"), IN_ROOMS)], None),
    ],
)
def test_first_words(routes, words):
    assert first_words(routes) == words


def test_every_app_has_words_of_its_own_and_finds_what_django_finds():
    rooms = [each for each in get_resolver().url_patterns if isinstance(each, Room)]
    assert len(rooms) > 15 and all(each.first_words for each in rooms)
    plain = [URLResolver(each.pattern, each.urlconf_name, None, each.app_name, each.namespace) for each in rooms]
    found = 0
    for address in [re.sub("<[^>]*>", "7", route) for _, route, _ in patterns()] + ["nowhere/", "house/", ""]:
        for mine, django in zip(rooms, plain, strict=True):
            answers = [_view(each, address) for each in (mine, django)]
            assert answers[0] == answers[1], address
            found += answers[0] is not None
    assert found > 300


def _view(resolver, address):
    try:
        match = resolver.resolve(address)
    except Resolver404:
        return None
    return match.view_name, match.kwargs, match.route


def test_a_room_is_as_an_include():
    assert room((IN_ROOMS, "app")).resolve("inner/x/more/").route == "inner/<slug:a>/more/"
    with pytest.raises(Resolver404):
        room((IN_ROOMS, "app")).resolve("innermost/")
