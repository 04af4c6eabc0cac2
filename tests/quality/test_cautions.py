"""Every page of a kind of work shows the cautions of that kind, all of them and no other, whatever page it is."""

from __future__ import annotations

import re
from html import unescape
from itertools import chain

import pytest

from farmbuild.crew.models import Actual, Kind, Task
from farmbuild.planning.work.cautions import ALWAYS, CAUTIONS, OF_WORK
from tests.upgrades.addresses import patterns
from tests.walks import load

#: By hand: the kinds of work of every page that shows some.
WORK: dict[tuple[str, ...], str] = {
    ("house",): "sites:house",
    ("saw", "design"): "sites:takeoff",
    ("survey", "posts"): "sites:site sites:site-places quotes:job quotes:ground",
    ("design",): (
        "plans:plan plans:savings plans:from-yard plans:houses-as-tried crew:schedule drawings:set quotes:quote"
        " quotes:option"
    ),
    ("saw", "handling"): "plans:house-needs",
    ("saw",): "plans:cutting stock:lot-cut stock:held-cut",
    ("handling",): (
        "stock:receive stock:lot stock:lot-scrap stock:lot-issue stock:lot-return stock:lot-move stock:lot-lend"
        " coop:joint coop:joint-share coop:seen-joint coop:pipe coop:pipe-new coop:pipe-return-new"
        " coop:pipe-return-other coop:pipe-return-money coop:seen-pipe coop:seen-pipe-new coop:seen-pipe-return-new"
        " coop:seen-pipe-return-other coop:seen-pipe-return-money"
        " coop:common-offer coop:common-wish coop:seen-common-offer"
        " stock:yard stock:give-back stock:lot-short stock:lot-receive stock:season-end-scrap"
    ),
    ("trial",): (
        "hoops:batch-trial hoops:batch-attempt hoops:batch-accept-outside hoops:batch-tolerance"
        " hoops:batch-attempt-spoilt"
    ),
    ("bend",): (
        "hoops:recipes hoops:recipe hoops:recipe-sheet hoops:bender hoops:batches hoops:batch-new hoops:batch"
        " hoops:recipe-for-span"
        " hoops:bender-wear hoops:bender-hoop"
        " hoops:batch-issue hoops:batch-give-back hoops:batch-spoilt hoops:batch-bent hoops:batch-take-back"
        " hoops:batch-finish hoops:batch-sheet crew:shared crew:booking crew:booking-photos crew:booking-pulls"
        " crew:booking-photo coop:seen crew:own crew:own-booking"
        " crew:own-hoop crew:booking-hoop"
    ),
    ("sight",): "hoops:fit-measure hoops:fit-sheet hoops:fit",
    ("film",): "crew:wind crew:wind-forecast crew:wind-limits",
}
#: What these show depends on what they are about.
BY_ROW = (
    "crew:task crew:task-length crew:task-slip crew:problem crew:problem-photos crew:day crew:day-tick"
    " crew:week-sheet crew:board crew:house-work crew:template buying:receive stock:season-end hoops:fit-latest"
    " guide:job guide:on-paper"
    # As they went out, with the cautions of that day.
    " quotes:version quotes:change"
)
#: Desk work, files, and what is only pressed. A new page is named here or above.
NO_WORK = (
    "home sign-in set-password change-password sign-out common:understood orgs:organisation orgs:set-up orgs:throw-away"
    " moving:export moving:export-progress moving:export-download moving:erase moving:erase-own"
    " orgs:choose orgs:who-may sign-in-code forgotten admin-sign-in access:account access:name access:step-on"
    " access:step-papers access:step-off access:sign-ins"
    " access:sign-ins-end access:own-log access:weekly access:weekly-end access:join-code"
    " access:join access:join-link access:people access:people-log access:invite access:invitation"
    " access:invitation-renew access:invitation-withdraw access:person access:person-role access:person-acts"
    " access:person-out access:person-end access:person-link crew:person-invite"
    " api:tokens api:token-new api:token api:token-end api:webhooks api:webhook-new api:webhook api:webhook-trial"
    " api:webhook-secret api:webhook-token api:webhook-stop api:webhook-start api:webhook-end"
    " drawings:pdf drawings:dxf history:changes history:act history:workbook history:csv"
    " sites:houses sites:house-new sites:house-create sites:house-like sites:house-draw-new sites:house-draw"
    " sites:house-edit sites:house-copy sites:house-archive"
    " sites:house-bring-back sites:takeoff-spreadsheet sites:sites sites:site-new sites:site-edit"
    " sites:site-copy sites:site-archive sites:site-bring-back hoops:benders hoops:bender-new hoops:bender-edit"
    " hoops:bender-archive hoops:bender-history hoops:bender-service hoops:bender-service-back"
    " hoops:bender-hoop-back crew:own-hoop-back"
    " hoops:bender-bring-back hoops:batch-accept hoops:batch-correct hoops:batch-sheet-pdf hoops:recipe-sheet-pdf"
    " hoops:recipe-new hoops:recipe-edit hoops:recipe-archive hoops:recipe-bring-back hoops:recipe-delete"
    " catalogue:materials catalogue:material-archive catalogue:material-bring-back"
    " catalogue:material-new catalogue:add-starting catalogue:material-sizes catalogue:material"
    " catalogue:offer-wanted"
    " catalogue:suppliers catalogue:supplier-new catalogue:supplier catalogue:supplier-edit catalogue:offer-new"
    " catalogue:offer catalogue:offer-remove catalogue:lead-time catalogue:list-new catalogue:list"
    " catalogue:material-prices catalogue:list-xlsx catalogue:list-csv"
    " stock:lots stock:lot-edit stock:lot-count stock:ledger stock:loans"
    " stock:lot-leave stock:lot-leave-end"
    " stock:movement stock:reverse stock:put-back stock:labels stock:counts stock:count-start stock:count"
    " stock:count-sheets stock:count-xlsx stock:count-place stock:count-materials stock:count-find"
    " stock:count-take-back stock:count-line"
    " stock:count-review stock:count-again stock:count-post stock:count-drop stock:count-import"
    " stock:count-import-preview stock:count-import-store stock:places stock:place stock:import stock:import-preview"
    " projects:project projects:workbook projects:template projects:preview projects:store"
    " stock:import-progress stock:import-run stock:import-stop"
    " stock:import-store stock:template-xlsx stock:template-csv stock:held stock:held-one stock:held-release"
    " stock:swap stock:availability stock:availability-of stock:season-end-file plans:plans plans:new plans:progress"
    " plans:savings-progress plans:savings-run plans:savings-end plans:savings-try"
    " plans:from-yard-progress plans:from-yard-run plans:from-yard-end plans:from-yard-try"
    " plans:run plans:end plans:retry plans:again plans:accept plans:release plans:house-held plans:house-release"
    " plans:in-time plans:house-put-back plans:change plans:change-file plans:house-change plans:needs plans:shortfall"
    " plans:leftovers plans:orders plans:why-offers plans:orders-zip plans:trial-order plans:cut-list plans:take-off"
    " plans:leftovers-file buying:orders buying:order-new buying:order-change buying:order-by-site buying:order-join"
    " buying:line-add buying:line buying:line-split buying:line-remove buying:order buying:workbook buying:send"
    " buying:cancel buying:close buying:close-line buying:receipt buying:reverse buying:reply-new buying:reply"
    " buying:reply-take buying:invoices buying:invoice buying:invoices-csv buying:received-csv"
    " buying:invoice-new buying:invoice-check buying:invoice-credit buying:invoice-reverse"
    " crew:people crew:person-new crew:person crew:person-edit crew:person-archive"
    " crew:person-bring-back crew:crews crew:crew-new crew:crew-first crew:crew crew:crew-edit crew:crew-archive"
    " crew:crew-bring-back crew:skills crew:skill-new crew:skill crew:skill-remove crew:settings crew:weeks"
    " crew:week-new crew:week crew:week-remove crew:days-off crew:day-off-new crew:day-off crew:day-off-remove"
    " crew:travel crew:templates crew:template-new crew:template-edit crew:template-remove crew:template-standard"
    " crew:rates crew:rates-use crew:calendar crew:bookings crew:booking-new crew:booking-move crew:booking-cancel"
    " crew:requests crew:request-new crew:request crew:request-withdraw crew:request-decline crew:proposal"
    " crew:sharing-rules"
    " crew:members crew:member-new crew:member crew:member-archive crew:member-sign-in-new crew:member-sign-in"
    " crew:member-sign-in-renew crew:member-sign-in-shut crew:own-ask crew:own-days crew:own-request"
    " crew:own-before crew:own-page-before crew:own-withdraw crew:own-calendar crew:own-calendar-make"
    " crew:own-understood crew:own-calendar-revoke crew:bender-feed"
    " crew:bender-feed-make crew:bender-feed-revoke crew:schedules crew:schedule-new crew:schedule-progress"
    " crew:schedule-run crew:schedule-end crew:schedule-retry"
    " crew:schedule-publish crew:task-fix crew:press-take-back crew:day-worker"
    " crew:kept"
    " crew:person-feed crew:person-feed-make crew:person-feed-revoke crew:hours crew:hours-approve"
    " crew:hours-workbook crew:hours-run crew:hours-other crew:hours-other-new crew:problems crew:photo"
    " crew:photo-whole crew:photo-small guide:guide guide:words"
    " quotes:customers quotes:customer-new quotes:customer quotes:customer-archive quotes:jobs quotes:job-new"
    " quotes:job-edit quotes:job-lost quotes:job-again quotes:photos quotes:photo-whole quotes:photo-small"
    " quotes:photo-remove quotes:quote-new quotes:quotes quotes:rates quotes:quote-edit quotes:option-new"
    " quotes:option-name quotes:option-remove quotes:option-price quotes:house-choose quotes:house-new"
    " quotes:house-like quotes:house quotes:house-remove quotes:line-new quotes:line quotes:line-worked-out"
    " quotes:line-remove"
    " quotes:send quotes:version-pdf quotes:version-workbook quotes:link-new quotes:link-end"
    " quotes:accept-behalf quotes:withdraw quotes:offered quotes:offered-pdf quotes:change-new"
    " quotes:change-line-remove quotes:change-drop quotes:change-send quotes:change-answer quotes:change-link"
    " quotes:change-pdf quotes:change-workbook"
    " costs:houses costs:houses-csv costs:house costs:house-csv costs:time"
    " costs:time-new costs:time-put costs:time-people costs:time-row costs:equipment costs:equipment-new"
    " costs:equipment-record costs:equipment-day costs:trips costs:trip-new costs:trips-record costs:trip costs:rates"
    " costs:pay-rate costs:equipment-rate costs:trip-rate"
    " quotes:job-bills quotes:stages quotes:bill-new quotes:bills quotes:bills-csv quotes:bill quotes:bill-pdf"
    " quotes:bill-workbook quotes:bill-back quotes:against quotes:to-come quotes:job-finish quotes:costs-csv"
    " quotes:against-workbook quotes:against-csv"
    " quotes:lessons quotes:lesson-take"
    " crew:booking-photo-whole crew:booking-photo-small"
    " coop:members coop:members-move coop:member coop:member-move coop:member-end coop:member-card coop:member-card-new"
    " coop:member-card-end coop:card-code coop:card-take coop:card-link coop:cooperatives coop:seen-move"
    " coop:seen-leave"
    " coop:charges coop:charges-post coop:charge-rates coop:charge-rate-new coop:free-days coop:booking coop:damage-new"
    " coop:damage coop:damage-dispute coop:accounts coop:accounts-workbook coop:accounts-pdfs coop:account"
    " coop:account-pdf coop:account-workbook coop:payment-new coop:statement-send coop:entry coop:statement"
    " coop:statement-pdf coop:statement-workbook coop:seen-account coop:seen-account-pdf coop:seen-account-workbook"
    " coop:seen-statement-pdf coop:seen-statement-workbook coop:seen-damage coop:seen-photo coop:seen-photo-small"
    " coop:joints coop:joint-new coop:joint-edit coop:joint-members coop:joint-call-off coop:joint-put-in"
    " coop:joint-need coop:joint-need-remove coop:joint-collect coop:joint-prices coop:joint-close coop:joint-reopen"
    " coop:joint-split coop:joint-split-pdf coop:joint-split-workbook coop:joint-list-pdf coop:joint-list-workbook"
    " coop:joint-handout-back"
    " coop:pipe-list coop:pipe-agree coop:pipe-back coop:pipe-return coop:pipe-return-agree coop:pipe-return-back"
    " coop:seen-pipe-list coop:seen-pipe-agree coop:seen-pipe-refuse coop:seen-pipe-return coop:seen-pipe-return-agree"
    " coop:seen-pipe-return-refuse coop:seen-lots coop:seen-lot coop:seen-lot-leave coop:seen-lot-leave-end"
    " coop:seen-joints coop:seen-joint-need coop:seen-joint-change coop:seen-joint-withdraw coop:seen-joint-plan"
    " coop:seen-joint-stock"
    " coop:common coop:common-open coop:common-open-lot coop:common-end coop:common-wishes coop:common-wish-give"
    " coop:seen-common coop:seen-common-wish"
)


@pytest.fixture
def demo(db):
    return load()


#: The demo has nothing that these show; their templates name the kind themselves.
WITHOUT_ROWS = {
    "crew:own-hoop",
    "stock:give-back",
    "crew:schedule",
}


def names_of(text: str) -> list[str]:
    return text.split()


def told(html: str) -> set[str]:
    """Headings of the cautions of a page, each of which has its words."""
    return set(re.findall(r"<p><strong>Caution: ([^<]+)\.</strong> [A-Z]", html))


def abouts(*kinds: str) -> set[str]:
    return {CAUTIONS[name].about for kind in kinds for name in OF_WORK[kind]}


def test_every_page_is_named_once():
    listed = [*chain.from_iterable(names_of(text) for text in (*WORK.values(), BY_ROW, NO_WORK))]
    assert sorted(listed) == sorted(name for name, _, _ in patterns())


@pytest.mark.django_db
def test_every_page_of_work_shows_what_its_kinds_of_work_do_and_local_codes(walked):
    kinds_of = {name: kinds for kinds, text in WORK.items() for name in names_of(text)}
    without, seen = set(), {}
    for name, answers in walked("imperial", ".").named.items():
        if name in names_of(BY_ROW):
            continue
        if not answers and name in kinds_of:
            without.add(name)
        for address, answer in answers.items():
            if html := unescape(answer.page):
                seen[address] = (name, told(html), html.count(ALWAYS))
    assert without == WITHOUT_ROWS
    wrong = {
        address: shown
        for address, (name, *shown) in seen.items()
        if shown != [abouts(*kinds_of.get(name, ())), int(name in kinds_of)]
    }
    assert wrong == {}
    # That of scrap is shown of a selection alone, and no plan of the demo tried a change of its houses.
    unseen = {"stock:season-end-scrap", "plans:houses-as-tried"}
    assert {name for name, *_ in seen.values()} >= kinds_of.keys() - WITHOUT_ROWS - unseen


def test_each_task_step_and_problem_shows_what_its_kind_of_work_does(demo, client):
    client.force_login(demo.user)
    one_each = {task.kind: task for task in Task.objects.of(demo.organisation)}
    assert set(one_each) == set(Kind.values)
    for kind, task in one_each.items():
        for address in (f"/crew/tasks/{task.pk}/", f"/crew/tasks/{task.pk}/length/", f"/crew/tasks/{task.pk}/slip/"):
            page = unescape(client.get(address).content.decode())
            assert (told(page), page.count(ALWAYS)) == (abouts(kind), 1), address
        page = unescape(client.get(f"/houses/{task.house.slug}/tasks/").content.decode())
        step = page[page.index(f'<p id="{kind}">') :].split('<details class="fold">')[0].split("<h2>")[0]
        assert (told(step), step.count(ALWAYS)) == (abouts(kind), 1)
    for problem in Actual.objects.of(demo.organisation).exclude(problem=""):
        page = client.get(f"/crew/problems/{problem.pk}/").content.decode()
        assert told(page) == abouts(problem.task.kind)


def test_no_two_sentences_contradict_each_other():
    """By hand: what was once said in two ways is said in one."""
    said = " ".join(caution.words for caution in CAUTIONS.values())
    assert "still air" not in said and "stand clear of its ends" not in said
    assert CAUTIONS["wind"].words == "Put film on in calm air, never at or above your limit. Wind can lift a person."
    assert OF_WORK["trial"] == OF_WORK["bend"] == ("pipe", "eyes")
