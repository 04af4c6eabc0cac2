"""Pages of jobs, and of what was seen on their ground."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.cache import get_conditional_response, patch_cache_control
from django.utils.translation import gettext
from django.views.decorators.http import require_POST, require_safe

from farmbuild.common.pages import OrgList, actor_kwargs, get_object_or_none, run_action, save_form
from farmbuild.orgs.answers.pages import kept_page
from farmbuild.quotes.customers.selectors import customers_of
from farmbuild.quotes.jobs import selectors, services
from farmbuild.quotes.jobs.forms import GroundPhotosForm, JobForm, LostForm, SurveyForm
from farmbuild.quotes.jobs.next_step import next_step_of
from farmbuild.quotes.jobs.tables import JobTable
from farmbuild.quotes.models import Job, SurveyPhoto
from farmbuild.quotes.pricing.presenters import quotes_for


class JobList(OrgList):
    table_class = JobTable
    template_name = "quotes/jobs.html"

    def get_queryset(self):
        self.archived = self.request.GET.get("over") == "1"
        rows = selectors.jobs_over_of if self.archived else selectors.live_jobs_of
        return rows(organisation=self.request.organisation)


def _job(request: HttpRequest, number: int) -> Job:
    if job := selectors.job_shown(organisation=request.organisation, number=number):
        return job
    raise Http404(gettext("No job has this number."))


def _page(number: int) -> str:
    return reverse("quotes:job", args=[number])


def new(request: HttpRequest) -> HttpResponse:
    organisation = request.organisation
    if not customers_of(organisation=organisation).exists():
        messages.info(request, gettext("A job is of a customer. Add the customer first."))
        return redirect("quotes:customer-new")
    customer = get_object_or_none(customers_of(organisation=organisation), slug=request.GET.get("customer"))
    form = JobForm(request.POST or None, initial={"customer": customer}, organisation=organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.create_job(**actor_kwargs(request), data=data),
        message=gettext("{} is on the list."),
    )
    return answer or render(request, "quotes/job_form.html", {"form": form})


def edit(request: HttpRequest, number: int) -> HttpResponse:
    row = _job(request, number)
    name = str(row)
    form = JobForm(request.POST or None, instance=row, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.save_job(**actor_kwargs(request), job=row, data=data),
        message=gettext("{} is saved."),
        redirect_to=_page(number),
    )
    return answer or render(request, "quotes/job_form.html", {"form": form, "job": row, "name": name})


@require_safe
@kept_page("job")
def show(request: HttpRequest, number: int) -> HttpResponse:
    return _shown(request, _job(request, number), GroundPhotosForm(organisation=request.organisation))


def _shown(request: HttpRequest, job: Job, photo_form: GroundPhotosForm) -> HttpResponse:
    context = {
        "job": job,
        "next_step": next_step_of(job),
        "survey": selectors.survey_of(job=job),
        "photos": selectors.photos_of_job(job=job),
        "photo_form": photo_form,
        "quotes": quotes_for(job=job),
        "may_quote": job.state in (Job.State.ENQUIRY, Job.State.QUOTED),
    }
    return render(request, "quotes/job.html", context)


def lost(request: HttpRequest, number: int) -> HttpResponse:
    row = _job(request, number)
    form = LostForm(request.POST or None, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.lose_job(**actor_kwargs(request), job=row, because=data["because"]),
        message=gettext("{} is lost."),
        redirect_to=_page(number),
    )
    return answer or render(request, "quotes/job_lost.html", {"form": form, "job": row})


@require_POST
def again(request: HttpRequest, number: int) -> HttpResponse:
    row = _job(request, number)
    return run_action(
        request,
        lambda: services.open_again(**actor_kwargs(request), job=row),
        message=gettext("%(row)s is taken up again.") % {"row": row},
        redirect_to=_page(number),
    )


def ground(request: HttpRequest, number: int) -> HttpResponse:
    row = _job(request, number)
    survey = selectors.survey_of(job=row)
    form = SurveyForm(request.POST or None, instance=survey, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.save_survey(**actor_kwargs(request), job=row, data=data),
        message=gettext("{} is saved."),
        redirect_to=_page(number),
    )
    return answer or render(request, "quotes/ground.html", {"form": form, "job": row})


@require_POST
def add_photos(request: HttpRequest, number: int) -> HttpResponse:
    row = _job(request, number)
    form = GroundPhotosForm(request.POST, request.FILES, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.add_photos(
            **actor_kwargs(request), job=row, pictures=data["photos"], caption=data["caption"]
        ),
        message=gettext("Photos added: {}."),
        redirect_to=_page(number),
    )
    return answer or _shown(request, row, form)


def _photo(request: HttpRequest, pk: int) -> SurveyPhoto:
    return get_object_or_404(selectors.photos_of(organisation=request.organisation), pk=pk)


@require_POST
def remove_photo(request: HttpRequest, pk: int) -> HttpResponse:
    photo = _photo(request, pk)
    return run_action(
        request,
        lambda: services.remove_photo(**actor_kwargs(request), photo=photo),
        message=gettext("The photo is removed."),
        redirect_to=_page(photo.survey.job.number),
    )


@require_safe
def picture(request: HttpRequest, pk: int, small: bool) -> HttpResponseBase:
    """JPEG bytes, kept by nobody but the browser, which asks each time whether it may still show them."""
    found = _photo(request, pk)
    etag = f'"{found.sha256}{"-small" if small else ""}"'
    answer = get_conditional_response(request, etag=etag)
    if answer is None:
        answer = HttpResponse(selectors.bytes_of(photo=found, small=small), content_type="image/jpeg")
        answer.headers["Content-Disposition"] = f'inline; filename="ground-{found.pk}.jpg"'
    answer.headers["ETag"] = etag
    answer.headers["X-Content-Type-Options"] = "nosniff"
    patch_cache_control(answer, private=True, no_cache=True)
    return answer
