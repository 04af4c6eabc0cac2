"""Addresses of this app."""

from django.urls import path

from farmbuild.orgs import views

app_name = "orgs"
urlpatterns = [path("organisation/", views.organisation, name="organisation")]
