"""What a token lets a program do, in plain words, and the acts that each stands for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum

from farmbuild.measure import join_words
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
    Scope.READ: "read houses, stock, plans, orders and work",
    Scope.PRICES: "see prices and costs",
    Scope.HOUSES: "make and change houses",
    Scope.STOCK: "move and count stock, and receive orders",
    Scope.CREW: "tick tasks and record hours",
    Scope.PLANS: "ask for plans",
    Scope.BENDERS: "ask for benders",
}


def acts_of_scopes(scopes: Iterable[str]) -> frozenset[Act]:
    """A scope that is no longer known counts for nothing."""
    wanted = {*scopes}
    return frozenset(act for scope, act in ACTS.items() if scope in wanted)


def scope_words(scopes: Iterable[str]) -> str:
    """As they follow "may"."""
    wanted = {*scopes}
    return join_words(words for scope, words in WORDS.items() if scope in wanted)
