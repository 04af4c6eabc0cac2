"""What a token lets a program do, in plain words, and the acts that each stands for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum

from django.utils.translation import gettext_lazy

from farmbuild.common.speaking import said_list
from farmbuild.orgs.acts import Act


class Scope(StrEnum):
    READ = "read"
    PRICES = "prices"
    HOUSES = "houses"
    STOCK = "stock"
    CREW = "crew"
    PLANS = "plans"
    BENDERS = "benders"


ACTS: Mapping[Scope, Act] = {
    Scope.READ: Act.SEE,
    Scope.PRICES: Act.COSTS,
    Scope.HOUSES: Act.HOUSES,
    Scope.STOCK: Act.STOCK,
    Scope.CREW: Act.RECORD,
    Scope.PLANS: Act.PLAN,
    Scope.BENDERS: Act.BENDERS,
}
WORDS: Mapping[Scope, str] = {
    Scope.READ: gettext_lazy("read houses, stock, plans, orders and work"),
    Scope.PRICES: gettext_lazy("see prices and costs"),
    Scope.HOUSES: gettext_lazy("make and change houses"),
    Scope.STOCK: gettext_lazy("move and count stock, and receive orders"),
    Scope.CREW: gettext_lazy("tick tasks and record hours"),
    Scope.PLANS: gettext_lazy("ask for plans"),
    Scope.BENDERS: gettext_lazy("ask for benders"),
}


def acts_of_scopes(scopes: Iterable[str]) -> frozenset[Act]:
    """A scope that is no longer known counts for nothing."""
    wanted = {*scopes}
    return frozenset(act for scope, act in ACTS.items() if scope in wanted)


def scope_words(scopes: Iterable[str]) -> str:
    """As they follow "may"."""
    wanted = {*scopes}
    return said_list(str(words) for scope, words in WORDS.items() if scope in wanted)
