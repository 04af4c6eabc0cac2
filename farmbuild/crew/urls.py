"""Addresses of this app; each part lists its own."""

from django.urls import URLPattern, URLResolver, include, path

app_name = "crew"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("farmbuild.crew.people.urls")),
    path("", include("farmbuild.crew.steps.urls")),
    path("", include("farmbuild.crew.bookings.urls")),
    path("", include("farmbuild.crew.schedule.urls")),
    path("", include("farmbuild.crew.daylist.urls")),
    path("", include("farmbuild.crew.offline.urls")),
    path("", include("farmbuild.crew.hours.urls")),
    path("", include("farmbuild.crew.problems.urls")),
    path("", include("farmbuild.crew.wind.urls")),
]
