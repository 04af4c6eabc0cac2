"""Addresses of this app."""

app_name = "catalogue"
urlpatterns: list = []
