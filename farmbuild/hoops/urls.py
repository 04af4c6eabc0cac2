"""Addresses of this app."""

app_name = "hoops"
urlpatterns: list = []
