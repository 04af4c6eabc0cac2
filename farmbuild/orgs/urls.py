"""Addresses of this app."""

from django.urls import path

from farmbuild.orgs.views import organisation

app_name = "orgs"
urlpatterns = [path("organisation/", organisation.organisation, name="organisation")]
