"""What a visitor reaches. Everything that is not named here is denied, so a new page is closed until it is added."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect

#: The page that a visitor lands on: it leads on to that of the cooperative.
FIRST = "crew:own-before"
PAGES = frozenset(
    {
        FIRST,
        "coop:seen",
        "coop:seen-move",
        "crew:own",
        "crew:own-page-before",
        "crew:own-understood",
        "crew:own-ask",
        "crew:own-request",
        "crew:own-withdraw",
        "crew:own-booking",
        "crew:own-hoop",
        "crew:own-hoop-back",
        "crew:own-days",
        "crew:own-calendar",
        "crew:own-calendar-make",
        "crew:own-calendar-revoke",
        "coop:seen-account",
        "coop:seen-account-pdf",
        "coop:seen-account-workbook",
        "coop:seen-damage",
        "coop:seen-photo",
        "coop:seen-photo-small",
        "coop:seen-statement-pdf",
        "coop:seen-statement-workbook",
        "coop:seen-joint",
        "coop:seen-joint-change",
        "coop:seen-joint-need",
        "coop:seen-joint-plan",
        "coop:seen-joint-withdraw",
        "coop:seen-joints",
        "coop:seen-lot",
        "coop:seen-lot-leave",
        "coop:seen-lot-leave-end",
        "coop:seen-lots",
        "coop:seen-pipe",
        "coop:seen-pipe-agree",
        "coop:seen-pipe-list",
        "coop:seen-pipe-new",
        "coop:seen-pipe-refuse",
        "coop:seen-pipe-return",
        "coop:seen-pipe-return-agree",
        "coop:seen-pipe-return-money",
        "coop:seen-pipe-return-new",
        "coop:seen-pipe-return-other",
        "coop:seen-pipe-return-refuse",
        "coop:seen-common",
        "coop:seen-common-offer",
        "coop:seen-common-wish",
        "access:account",
        "access:join",
        "access:join-code",
        "access:join-link",
        "access:name",
        "access:own-log",
        "access:sign-ins",
        "access:sign-ins-end",
        "access:step-off",
        "access:step-on",
        "access:step-papers",
        "access:weekly-end",
        "change-password",
        "forgotten",
        "quotes:offered",
        "quotes:offered-pdf",
        "set-password",
        "sign-in",
        "sign-in-code",
        "sign-out",
    }
)
#: What everybody may read, signed in or not: nothing of an organisation is on it.
READ_BY_ALL = frozenset({"guide:guide", "guide:job", "guide:on-paper", "guide:words"})
#: Where signing in leads: on to the visitor's own page.
LANDINGS = frozenset({"home", "sites:houses"})


def restrict_visitor(request: HttpRequest) -> HttpResponse | None:
    """None where a visitor may go on. Raises Http404 elsewhere, so that nothing is told of what is there."""
    name = request.resolver_match.view_name
    if name in PAGES | READ_BY_ALL:
        return None
    if name in LANDINGS and request.method in ("GET", "HEAD"):
        return redirect(FIRST)
    raise Http404("Not a page of visitors.")
