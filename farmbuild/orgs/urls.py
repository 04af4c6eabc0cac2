"""Addresses of this app."""

app_name = "orgs"
urlpatterns: list = []
