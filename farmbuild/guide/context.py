"""How the job of a page is done, linked from every page that has one."""

from django.http import HttpRequest

from farmbuild.guide.jobs import job_of_page


def how_it_is_done(request: HttpRequest) -> dict[str, object]:
    match = request.resolver_match
    return {"guide_job": job_of_page(match.view_name) if match else None}
