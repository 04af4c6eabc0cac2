"""Addresses of this app."""

app_name = "sites"
urlpatterns: list = []
