"""The pages that people have open all day, in the demo season, for whatever measures or bounds them."""

from __future__ import annotations

from django.urls import reverse

from farmbuild.plans.models import Plan
from farmbuild.quotes.models import Job, Quote
from farmbuild.sites.models import House


def main_pages() -> dict[str, str]:
    """Name to address, with the first house, the accepted plan, and the last job and quote that are there."""
    house = [House.objects.earliest("pk").slug]
    plan = [Plan.objects.exclude(accepted_at=None).earliest("number").number]
    named = {
        "houses": ("sites:houses", []),
        "house": ("sites:house", house),
        "take-off": ("sites:takeoff", house),
        "house form": ("sites:house-edit", house),
        "orders": ("buying:orders", []),
        "ledger": ("stock:ledger", []),
        "availability": ("stock:availability", []),
        "stock": ("stock:lots", []),
        "crew": ("crew:board", []),
        "today's list": ("crew:day", []),
        "plan": ("plans:plan", plan),
        "cutting": ("plans:cutting", plan),
        "jobs": ("quotes:jobs", []),
        "job": ("quotes:job", [Job.objects.latest("number").number]),
        "quotes": ("quotes:quotes", []),
        "quote": ("quotes:quote", [Quote.objects.latest("number").number]),
        "costs": ("costs:houses", []),
        "members": ("coop:members", []),
        "accounts": ("coop:accounts", []),
        "joint orders": ("coop:joints", []),
    }
    return {name: reverse(view, args=args) for name, (view, args) in named.items()}
