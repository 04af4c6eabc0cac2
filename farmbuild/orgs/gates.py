"""Which act opens each address of the site, and which is needed to send a form to it.

One line or more an address; an address that stands in none is closed to everybody, and a test says so.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from farmbuild.orgs.acts import Act

#: Methods that change nothing.
READING = frozenset({"GET", "HEAD", "OPTIONS"})

_ANY = frozenset(Act)
_SEE = frozenset({Act.SEE})
#: A crew has no other pages than these; whoever counts stock beside it has those of the stock too.
_WORK = frozenset({Act.SEE, Act.RECORD})
_YARD = frozenset({Act.SEE, Act.STOCK})
_LABEL = frozenset({Act.SEE, Act.RECORD, Act.STOCK})
_COSTS = frozenset({Act.COSTS})
_RECORD = frozenset({Act.RECORD})
_HOUSES = frozenset({Act.HOUSES})
_STOCK = frozenset({Act.STOCK})
_PLAN = frozenset({Act.PLAN})
_ACCEPT = frozenset({Act.ACCEPT})
_SEND = frozenset({Act.SEND})
_BENDERS = frozenset({Act.BENDERS})
#: What a farm asks of a cooperative that it is a member of.
_ASKS = frozenset({Act.PLAN, Act.BENDERS})
_PEOPLE = frozenset({Act.PEOPLE})
_OWN = frozenset({Act.OWN})

#: Open to whoever gets there: signing in and out, what is of a visitor alone, what has no row of an organisation.
FREE = frozenset(
    """
    home sign-in sign-in-code forgotten admin-sign-in access:account access:name access:step-on access:step-papers
    access:step-off access:sign-ins access:sign-ins-end access:own-log access:join access:join-code access:join-link
    access:weekly access:weekly-end set-password sign-out change-password orgs:set-up orgs:choose common:understood
    crew:calendar crew:day-worker
    moving:erase-own
    guide:guide guide:words guide:on-paper guide:job
    quotes:offered quotes:offered-pdf
    """.split()  # noqa: SIM905
)


#: Prices stand in their boxes, so that nobody uses them without seeing costs.
PRICED = frozenset(
    """
    catalogue:offer-wanted catalogue:supplier-new catalogue:lead-time catalogue:list-new catalogue:list
    catalogue:supplier-edit catalogue:offer-new catalogue:offer catalogue:offer-remove stock:yard projects:project
    projects:preview projects:store plans:change buying:order-new buying:order-change buying:order-by-site
    buying:order-join buying:line-add buying:line buying:line-split buying:line-remove buying:reply-new buying:reply
    buying:reply-take buying:send buying:invoice-new buying:invoice-check buying:invoice-credit
    buying:invoice-reverse
    quotes:rates quotes:quote-new quotes:quote-edit quotes:option-new quotes:option-name quotes:option-remove
    quotes:option-price quotes:house-choose quotes:house-new quotes:house-like quotes:house quotes:house-remove
    costs:time-row costs:time-new costs:time-put costs:time-people costs:equipment-day
    costs:equipment-new costs:equipment-record costs:trip costs:trip-new costs:trips-record costs:pay-rate
    costs:equipment-rate costs:trip-rate
    quotes:line-new quotes:line quotes:line-worked-out quotes:line-remove quotes:send quotes:link-new quotes:link-end
    quotes:withdraw quotes:accept-behalf quotes:change quotes:change-send quotes:change-answer quotes:change-link
    quotes:bill-new quotes:bill-back quotes:to-come quotes:lessons quotes:lesson-take
    coop:damage coop:entry coop:charges-post coop:damage-new coop:damage-dispute coop:charge-rate-new coop:free-days
    coop:payment-new coop:statement-send coop:seen-damage
    coop:joint-close coop:common-open coop:common-open-lot
    coop:pipe-new coop:pipe-agree coop:pipe-return-other coop:pipe-return-money coop:pipe-return-agree
    coop:seen-pipe-new coop:seen-pipe-agree coop:seen-pipe-return-other coop:seen-pipe-return-money
    coop:seen-pipe-return-agree
    moving:export moving:export-progress moving:export-download
    """.split()  # noqa: SIM905
)


@dataclass(frozen=True)
class Gate:
    """Any one act of a set is enough; a ``priced`` page asks for that of seeing costs too."""

    opens: frozenset[Act]
    sends: frozenset[Act]
    priced: bool = False

    def acts(self, method: str) -> frozenset[Act]:
        return self.opens if method in READING else self.sends

    def missing(self, acts: Collection[Act], method: str) -> Act | None:
        """The act that a refusal names; None where these acts are enough."""
        wanted = self.acts(method)
        if wanted.isdisjoint(acts):
            return min(wanted, key=list(Act).index)
        return Act.COSTS if self.priced and Act.COSTS not in acts else None


#: What opens them, what a form there needs, and the addresses.
_TABLE: tuple[tuple[frozenset[Act], frozenset[Act], str], ...] = (
    # Houses and sites
    (_SEE, _SEE, "sites:houses sites:house sites:takeoff sites:takeoff-spreadsheet sites:sites sites:site"),
    (_SEE, _SEE, "drawings:set drawings:pdf drawings:dxf"),
    (_HOUSES, _HOUSES, "sites:house-new sites:house-draw-new sites:house-create sites:house-like sites:house-edit"),
    (_HOUSES, _HOUSES, "sites:house-draw sites:house-copy sites:house-archive sites:house-bring-back"),
    (_HOUSES, _HOUSES, "sites:site-new sites:site-edit sites:site-copy sites:site-archive sites:site-bring-back"),
    (_HOUSES, _HOUSES, "sites:site-places"),
    # Hoops. What a crew bends by and measures is its work.
    (_SEE, _SEE, "hoops:benders hoops:bender hoops:recipes hoops:recipe hoops:batches hoops:fit hoops:fit-latest"),
    (_WORK, _WORK, "hoops:batch hoops:batch-attempt hoops:batch-sheet hoops:batch-sheet-pdf hoops:fit-sheet"),
    (_WORK, _WORK, "hoops:recipe-sheet hoops:recipe-sheet-pdf"),
    (_RECORD, _RECORD, "hoops:batch-trial hoops:batch-bent hoops:batch-take-back hoops:fit-measure"),
    (_BENDERS, _BENDERS, "hoops:batch-new hoops:batch-accept hoops:batch-accept-outside hoops:batch-correct"),
    (_BENDERS, _BENDERS, "hoops:batch-finish"),
    (_PLAN, _PLAN, "hoops:batch-tolerance"),
    (_STOCK, _STOCK, "hoops:batch-issue hoops:batch-give-back hoops:batch-spoilt hoops:batch-attempt-spoilt"),
    (_BENDERS, _BENDERS, "hoops:bender-new hoops:bender-edit hoops:bender-archive hoops:bender-bring-back"),
    (_BENDERS, _BENDERS, "crew:booking-hoop"),
    (_SEE, _SEE, "hoops:bender-wear hoops:bender-history hoops:recipe-for-span"),
    (_BENDERS, _BENDERS, "hoops:bender-service hoops:bender-service-back hoops:bender-hoop hoops:bender-hoop-back"),
    (_HOUSES, _HOUSES, "hoops:recipe-new hoops:recipe-edit hoops:recipe-archive hoops:recipe-bring-back"),
    (_HOUSES, _HOUSES, "hoops:recipe-delete"),
    # Materials, and what suppliers ask for them
    (_SEE, _PLAN, "catalogue:materials"),
    (_PLAN, _PLAN, "catalogue:material-new catalogue:add-starting catalogue:material-sizes catalogue:material"),
    (_PLAN, _PLAN, "catalogue:material-archive catalogue:material-bring-back"),
    (_COSTS, _COSTS, "catalogue:material-prices catalogue:suppliers catalogue:supplier catalogue:list-xlsx"),
    (_COSTS, _COSTS, "catalogue:list-csv"),
    (_PLAN, _PLAN, "catalogue:offer-wanted catalogue:supplier-new catalogue:lead-time catalogue:list-new"),
    (_PLAN, _PLAN, "catalogue:list catalogue:supplier-edit catalogue:offer-new catalogue:offer catalogue:offer-remove"),
    # Stock
    (_YARD, _STOCK, "stock:lots stock:lot stock:ledger stock:loans stock:movement stock:labels stock:held"),
    (_YARD, _STOCK, "stock:held-one stock:counts stock:count stock:count-sheets stock:count-xlsx stock:places"),
    (_LABEL, _LABEL, "stock:lot-short"),
    (_STOCK, _STOCK, "stock:yard stock:receive stock:lot-edit stock:lot-count stock:lot-scrap stock:lot-issue"),
    (_STOCK, _STOCK, "stock:lot-return stock:lot-move stock:lot-lend stock:lot-cut stock:lot-receive stock:reverse"),
    (_STOCK, _STOCK, "stock:lot-leave stock:lot-leave-end"),
    (_STOCK, _STOCK, "stock:put-back stock:give-back stock:count-start stock:count-place stock:count-find"),
    (_STOCK, _STOCK, "stock:count-materials stock:count-take-back stock:count-line stock:count-review"),
    (_STOCK, _STOCK, "stock:count-again stock:count-post stock:count-drop stock:count-import"),
    (_STOCK, _STOCK, "stock:count-import-preview stock:count-import-store stock:place stock:import"),
    (_STOCK, _STOCK, "stock:import-preview stock:import-store stock:template-xlsx stock:template-csv"),
    (_STOCK, _STOCK, "stock:import-progress stock:import-run stock:import-stop"),
    (_STOCK, _STOCK, "stock:held-cut stock:season-end-scrap"),
    (_PLAN, _PLAN, "stock:held-release stock:swap"),
    (_SEE, _SEE, "stock:availability stock:availability-of stock:season-end"),
    (_COSTS, _COSTS, "stock:season-end-file"),
    # The project workbook holds prices.
    (_COSTS, _PLAN, "projects:project"),
    (_COSTS, _COSTS, "projects:workbook projects:template"),
    (_PLAN, _PLAN, "projects:preview projects:store"),
    # Plans
    (_SEE, _SEE, "plans:plans plans:plan plans:progress plans:needs plans:house-needs plans:in-time"),
    (_SEE, _SEE, "plans:shortfall"),
    (_SEE, _SEE, "plans:leftovers plans:house-held plans:cut-list plans:take-off"),
    (_COSTS, _COSTS, "plans:orders plans:why-offers plans:orders-zip plans:trial-order plans:leftovers-file"),
    (_PLAN, _PLAN, "plans:new plans:run plans:end plans:retry plans:again plans:house-change"),
    (_COSTS, _PLAN, "plans:savings plans:savings-progress"),
    (_PLAN, _PLAN, "plans:savings-run plans:savings-end plans:savings-try"),
    (_COSTS, _PLAN, "plans:from-yard plans:from-yard-progress"),
    (_PLAN, _PLAN, "plans:from-yard-run plans:from-yard-end plans:from-yard-try"),
    (_HOUSES, _HOUSES, "plans:houses-as-tried"),
    (_ACCEPT, _ACCEPT, "plans:accept plans:release plans:house-release"),
    (_STOCK, _STOCK, "plans:house-put-back"),
    (_COSTS, _ACCEPT, "plans:change"),
    (_COSTS, _COSTS, "plans:change-file"),
    # Orders
    (_SEE, _SEE, "buying:orders buying:order buying:receipt"),
    (_COSTS, _COSTS, "buying:workbook"),
    (_COSTS, _COSTS, "buying:invoices buying:invoice buying:invoices-csv buying:received-csv"),
    (_PLAN, _PLAN, "buying:invoice-new buying:invoice-check buying:invoice-credit buying:invoice-reverse"),
    (_PLAN, _PLAN, "buying:order-new buying:order-change buying:order-by-site buying:order-join buying:line-add"),
    (_PLAN, _PLAN, "buying:line buying:line-split buying:line-remove"),
    (_SEND, _SEND, "buying:reply-new buying:reply buying:reply-take buying:send buying:cancel"),
    (_SEND, _SEND, "buying:close buying:close-line"),
    (_STOCK, _STOCK, "buying:receive buying:reverse"),
    # Crew: its people, hours and rates, and what is worked out of them
    (_SEE, _SEE, "crew:people crew:person crew:crews crew:crew crew:skills crew:weeks crew:days-off crew:templates"),
    (_SEE, _SEE, "crew:template crew:board crew:week-sheet crew:schedules crew:schedule"),
    (_SEE, _SEE, "crew:schedule-progress crew:hours crew:hours-workbook crew:wind"),
    (_SEE, _PLAN, "crew:house-work crew:rates"),
    (_PLAN, _PLAN, "crew:person-new crew:person-edit crew:person-archive crew:person-bring-back crew:crew-new"),
    (_PLAN, _PLAN, "crew:crew-first crew:crew-edit crew:crew-archive crew:crew-bring-back crew:skill-new crew:skill"),
    (_PLAN, _PLAN, "crew:skill-remove crew:settings crew:week-new crew:week crew:week-remove crew:day-off-new"),
    (_PLAN, _PLAN, "crew:day-off crew:day-off-remove crew:travel crew:template-new crew:template-edit"),
    (_PLAN, _PLAN, "crew:template-remove crew:template-standard crew:rates-use crew:schedule-new crew:schedule-run"),
    (_PLAN, _PLAN, "crew:schedule-end crew:schedule-retry crew:schedule-publish"),
    (_PLAN, _PLAN, "crew:task-fix crew:task-length crew:task-slip"),
    (_PLAN, _PLAN, "crew:hours-approve crew:wind-limits"),
    # Crew: the work of a day
    (_WORK, _WORK, "crew:day crew:task crew:person-feed crew:problems crew:photo-whole crew:photo-small"),
    (_LABEL, _LABEL, "crew:kept"),
    # Whoever saws reads what is cut from which stick.
    (_WORK, _WORK, "plans:cutting"),
    (_WORK, _RECORD, "crew:problem crew:photo crew:hours-other crew:hours-run"),
    (_RECORD, _RECORD, "crew:wind-forecast crew:day-tick crew:press-take-back crew:problem-photos"),
    (_RECORD, _RECORD, "crew:hours-other-new crew:person-feed-make crew:person-feed-revoke"),
    # Bills, and cost against quote
    (_COSTS, _COSTS, "quotes:job-bills quotes:bills quotes:bills-csv quotes:bill quotes:bill-pdf quotes:bill-workbook"),
    (_COSTS, _COSTS, "quotes:against quotes:against-workbook quotes:against-csv quotes:costs-csv"),
    (_SEND, _SEND, "quotes:stages quotes:bill-new quotes:bill-back"),
    (_PLAN, _PLAN, "quotes:to-come quotes:job-finish quotes:lessons quotes:lesson-take"),
    # Benders lent out
    (_SEE, _SEE, "crew:shared crew:bookings crew:requests crew:request crew:members crew:bender-feed"),
    (_SEE, _BENDERS, "crew:booking"),
    (_BENDERS, _BENDERS, "crew:booking-new crew:booking-move crew:booking-cancel crew:request-new"),
    (
        _BENDERS,
        _BENDERS,
        "crew:request-withdraw crew:request-decline crew:proposal crew:member-new crew:member crew:sharing-rules",
    ),
    (_BENDERS, _BENDERS, "crew:member-archive crew:member-sign-in-new crew:member-sign-in crew:member-sign-in-renew"),
    (_BENDERS, _BENDERS, "crew:member-sign-in-shut crew:bender-feed-make crew:bender-feed-revoke"),
    # What a member sees of its cooperative: the people of its farm by their acts there, visitors by visitors.py
    (_SEE, _SEE, "coop:seen crew:own crew:own-days crew:own-request crew:own-booking crew:own-calendar"),
    (_SEE, _SEE, "coop:cooperatives"),
    (_OWN, _OWN, "coop:seen-leave coop:seen-move coop:card-code coop:card-link coop:card-take"),
    # Members of a cooperative that are farms
    (_SEE, _SEE, "coop:members coop:member"),
    (_PLAN, _PLAN, "coop:members-move coop:member-move coop:member-card coop:member-card-new coop:member-card-end"),
    (_PLAN, _PLAN, "coop:member-end"),
    (_SEE, _SEE, "crew:own-before crew:own-page-before crew:own-understood"),
    (_ASKS, _ASKS, "crew:own-hoop crew:own-hoop-back"),
    (_ASKS, _ASKS, "crew:own-ask crew:own-withdraw crew:own-calendar-make crew:own-calendar-revoke"),
    (_SEE, _SEE, "crew:booking-photo-whole crew:booking-photo-small"),
    (_SEE, _BENDERS, "crew:booking-photo"),
    (_BENDERS, _BENDERS, "crew:booking-photos crew:booking-pulls"),
    # What members of a cooperative pay, and their accounts. Whoever runs the benders posts what they come to, where
    # they see costs too; prices, payments and statements are of whoever plans.
    (_COSTS, _COSTS, "coop:charges coop:charge-rates coop:booking coop:accounts coop:accounts-workbook"),
    (_COSTS, _COSTS, "coop:accounts-pdfs coop:account coop:account-pdf coop:account-workbook coop:statement"),
    (_COSTS, _COSTS, "coop:statement-pdf coop:statement-workbook"),
    (_COSTS, _BENDERS, "coop:damage"),
    (_COSTS, _ASKS, "coop:entry"),
    (_BENDERS, _BENDERS, "coop:charges-post coop:damage-new coop:damage-dispute"),
    (_PLAN, _PLAN, "coop:charge-rate-new coop:free-days coop:payment-new coop:statement-send"),
    (_COSTS, _COSTS, "coop:seen-account coop:seen-account-pdf coop:seen-account-workbook coop:seen-statement-pdf"),
    (_COSTS, _COSTS, "coop:seen-statement-workbook"),
    (_COSTS, _ASKS, "coop:seen-damage"),
    (_SEE, _SEE, "coop:seen-photo coop:seen-photo-small"),
    # Pipe between members, and their lots in the common yard
    (_SEE, _SEE, "coop:pipe-list coop:pipe coop:pipe-return coop:seen-pipe-list coop:seen-pipe coop:seen-pipe-return"),
    (_PLAN, _PLAN, "coop:pipe-new coop:pipe-agree coop:pipe-back coop:pipe-return-new coop:pipe-return-other"),
    (_PLAN, _PLAN, "coop:pipe-return-money coop:pipe-return-agree coop:pipe-return-back"),
    (_ASKS, _ASKS, "coop:seen-pipe-new coop:seen-pipe-agree coop:seen-pipe-refuse coop:seen-pipe-return-new"),
    (_ASKS, _ASKS, "coop:seen-pipe-return-other coop:seen-pipe-return-money coop:seen-pipe-return-agree"),
    (_ASKS, _ASKS, "coop:seen-pipe-return-refuse coop:seen-lot-leave coop:seen-lot-leave-end"),
    (_SEE, _SEE, "coop:seen-lots coop:seen-lot"),
    # Joint orders of a cooperative
    (_SEE, _SEE, "coop:joints coop:joint"),
    (_PLAN, _PLAN, "coop:joint-new coop:joint-edit coop:joint-members coop:joint-call-off coop:joint-put-in"),
    (_PLAN, _PLAN, "coop:joint-need coop:joint-need-remove coop:joint-collect coop:joint-close coop:joint-reopen"),
    (_COSTS, _COSTS, "coop:joint-prices coop:joint-split-pdf coop:joint-split-workbook"),
    (_COSTS, _PLAN, "coop:joint-split"),
    (_YARD, _STOCK, "coop:joint-share coop:joint-list-pdf coop:joint-list-workbook"),
    (_STOCK, _STOCK, "coop:joint-handout-back"),
    # What a member sees and says of them
    (_SEE, _SEE, "coop:seen-joints coop:seen-joint"),
    (_ASKS, _ASKS, "coop:seen-joint-need coop:seen-joint-change coop:seen-joint-withdraw coop:seen-joint-plan"),
    (_STOCK, _STOCK, "coop:seen-joint-stock"),
    # Common stock of a cooperative: opened by whoever plans, given by whoever has the stock
    (_SEE, _SEE, "coop:common coop:common-offer coop:common-wishes"),
    (_PLAN, _PLAN, "coop:common-open coop:common-open-lot coop:common-end"),
    (_SEE, _STOCK, "coop:common-wish"),
    (_STOCK, _STOCK, "coop:common-wish-give"),
    # What a member sees of it and asks for
    (_SEE, _SEE, "coop:seen-common"),
    (_SEE, _ASKS, "coop:seen-common-offer coop:seen-common-wish"),
    # Customers, their jobs, and what they are quoted
    (_SEE, _SEE, "quotes:jobs quotes:job quotes:customers quotes:photo-whole quotes:photo-small"),
    (_SEE, _PLAN, "quotes:customer"),
    (_PLAN, _PLAN, "quotes:customer-new quotes:customer-archive quotes:job-new quotes:job-edit quotes:job-lost"),
    (_PLAN, _PLAN, "quotes:job-again quotes:ground quotes:photos quotes:photo-remove"),
    (_COSTS, _COSTS, "quotes:quotes quotes:quote quotes:option"),
    (_PLAN, _PLAN, "quotes:rates quotes:quote-new quotes:quote-edit quotes:option-new quotes:option-name"),
    (_PLAN, _PLAN, "quotes:option-remove quotes:option-price quotes:house-choose quotes:house-new quotes:house-like"),
    (_PLAN, _PLAN, "quotes:house quotes:house-remove quotes:line-new quotes:line quotes:line-worked-out"),
    (_PLAN, _PLAN, "quotes:line-remove"),
    # What houses cost
    (_COSTS, _COSTS, "costs:houses costs:houses-csv costs:house costs:house-csv costs:time costs:equipment"),
    (_COSTS, _COSTS, "costs:trips costs:rates"),
    (_COSTS, _PLAN, "costs:time-row costs:equipment-day costs:trip"),
    (_PLAN, _PLAN, "costs:time-new costs:time-put costs:time-people costs:equipment-new costs:equipment-record"),
    (_PLAN, _PLAN, "costs:trip-new costs:trips-record costs:pay-rate costs:equipment-rate costs:trip-rate"),
    (_COSTS, _COSTS, "quotes:version quotes:version-pdf quotes:version-workbook quotes:change-pdf"),
    (_COSTS, _COSTS, "quotes:change-workbook"),
    (_SEND, _SEND, "quotes:send quotes:link-new quotes:link-end quotes:withdraw quotes:change-send quotes:change-link"),
    (_ACCEPT, _ACCEPT, "quotes:accept-behalf quotes:change-answer"),
    (_COSTS, _PLAN, "quotes:change"),
    (_PLAN, _PLAN, "quotes:change-new quotes:change-line-remove quotes:change-drop"),
    # The organisation
    (_SEE, _SEE, "history:changes history:act history:workbook history:csv"),
    (_ANY, _ANY, "orgs:who-may"),
    (_PEOPLE, _PEOPLE, "access:people access:people-log access:invite access:invitation access:invitation-renew"),
    (_PEOPLE, _PEOPLE, "access:invitation-withdraw access:person access:person-role access:person-acts"),
    (_PEOPLE, _PEOPLE, "access:person-out access:person-end access:person-link crew:person-invite"),
    (_OWN, _OWN, "orgs:organisation orgs:throw-away"),
    (_PLAN, _PLAN, "api:tokens api:token-new api:token api:token-end"),
    (_OWN, _OWN, "api:webhooks api:webhook-new api:webhook api:webhook-trial api:webhook-secret api:webhook-token"),
    (_OWN, _OWN, "api:webhook-stop api:webhook-start api:webhook-end"),
    (_PEOPLE, _PEOPLE, "moving:erase"),
    (_OWN, _OWN, "moving:export moving:export-progress moving:export-download"),
)

GATES: Mapping[str, Gate] = {
    name: Gate(opens, sends, name in PRICED) for opens, sends, names in _TABLE for name in names.split()
}


def lets(name: str, acts: Collection[Act], method: str) -> bool:
    """Whether somebody with these acts gets an answer of the address of this name; of one that no line names, never."""
    if name in FREE:
        return True
    gate = GATES.get(name)
    return gate is not None and gate.missing(acts, method) is None
