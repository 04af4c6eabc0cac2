"""Addresses of this app; each room has a list of its own."""

from farmbuild.coop.members import urls as members

app_name = "coop"
urlpatterns = [*members.urlpatterns]
