"""What whoever keeps a server says by variables is taken as it is meant, or ends the start in words."""

from __future__ import annotations

import pytest

from farmbuild.common.checks import UNSAID, tell_of_proxy, who_gives_https
from farmbuild.common.environment import check_proxy, is_on, one_of, proxy_is_unsaid, public_hosts


@pytest.fixture
def said(monkeypatch):
    return lambda **words: [monkeypatch.setenv(f"FARMBUILD_{name}", value) for name, value in words.items()]


@pytest.mark.parametrize("value, on", [("", False), ("0", False), ("1", True)])
def test_a_switch(said, value, on):
    said(DEBUG=value)
    assert is_on("FARMBUILD_DEBUG") is on


@pytest.mark.parametrize("value", ["true", "yes", " 1", "2"])
def test_a_switch_that_is_neither_is_refused(said, value):
    said(DEBUG=value)
    with pytest.raises(SystemExit, match="FARMBUILD_DEBUG is 1 for yes"):
        is_on("FARMBUILD_DEBUG")


def test_a_word_that_is_not_known_is_refused(said):
    said(TASKS="databse")
    with pytest.raises(SystemExit, match="FARMBUILD_TASKS is database, or not there; “databse” is not known"):
        one_of("FARMBUILD_TASKS", "database")
    said(TASKS="")
    assert one_of("FARMBUILD_TASKS", "database") == ""


def test_hosts_are_names(said):
    said(HOSTS="farm.example.org, .example.net,")
    assert public_hosts() == ["farm.example.org", ".example.net"]
    said(HOSTS="")
    assert public_hosts() == []


@pytest.mark.parametrize(
    "host", ["*", "https://farm.example.org", "farm.example.org:8443", "farm.example.org/", "Farm.example.org", "a b"]
)
def test_what_no_browser_asks_for_is_refused(said, host):
    said(HOSTS=f"farm.example.org,{host}")
    with pytest.raises(SystemExit) as told:
        public_hosts()
    assert f"“{host}” is none." in str(told.value)


def test_a_proxy_is_trusted_for_a_name_alone(said):
    said(BEHIND_PROXY="1")
    assert check_proxy(["farm.example.org"]) and not proxy_is_unsaid(["farm.example.org"])
    with pytest.raises(SystemExit, match="FARMBUILD_HOSTS says no name"):
        check_proxy([])


def test_who_gives_https_is_asked_for(said, settings, monkeypatch, caplog):
    monkeypatch.delenv("FARMBUILD_BEHIND_PROXY", raising=False)
    assert proxy_is_unsaid(["farm.example.org"]) and not proxy_is_unsaid([])
    said(BEHIND_PROXY="0")
    assert not proxy_is_unsaid(["farm.example.org"])
    assert who_gives_https() == []
    settings.PROXY_UNSAID = True
    assert [found.msg for found in who_gives_https()] == [UNSAID]
    tell_of_proxy()
    assert UNSAID in caplog.text
