"""Addresses of this app."""

from django.urls import path

from farmbuild.orgs.views import choosing, first_account, organisation, who_may

app_name = "orgs"
urlpatterns = [
    path("organisation/", organisation.organisation, name="organisation"),
    path("organisation/who-may/", who_may.who_may, name="who-may"),
    path("organisation/throw-away/", organisation.throw_season_away, name="throw-away"),
    path("organisations/", choosing.choose, name="choose"),
    path("set-up/", first_account.set_up, name="set-up"),
]
