"""Addresses of this app."""

app_name = "buying"
urlpatterns: list = []
