"""Addresses: one file an app, plus signing in and out."""

from django.contrib import admin
from django.contrib.auth.views import LogoutView
from django.urls import include, path
from django.views.generic import RedirectView

from farmbuild.access.views import signing_in
from farmbuild.access.views.forgotten import forgotten
from farmbuild.access.views.passwords import ChangePassword, SetPassword
from farmbuild.api.addresses import urlpatterns as programs
from farmbuild.buying import stock_urls as stock_and_orders
from farmbuild.common.once import counted_once
from farmbuild.common.rooms_of_addresses import room
from farmbuild.history.recording import recorded_pages
from farmbuild.orgs.views.landing import home
from farmbuild.plans import stock_urls as stock_and_plans
from farmbuild.stock import urls as stock

handler403 = "farmbuild.orgs.gatekeeper.refused"
handler500 = "farmbuild.common.telling.requests.failed"
urlpatterns = [
    path("", home, name="home"),
    path("sign-in/", signing_in.SignIn.as_view(), name="sign-in"),
    path("sign-in/code/", signing_in.code, name="sign-in-code"),
    path("sign-in/forgotten/", forgotten, name="forgotten"),
    path("sign-in/<uidb64>/<token>/", SetPassword.as_view(), name="set-password"),
    path("password/", ChangePassword.as_view(), name="change-password"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    room("farmbuild.common.urls"),
    room("farmbuild.history.urls"),
    room("farmbuild.orgs.urls"),
    room("farmbuild.access.urls"),
    room("farmbuild.sites.urls"),
    room("farmbuild.drawings.urls"),
    room("farmbuild.hoops.urls"),
    room("farmbuild.catalogue.urls"),
    room(([*stock.urlpatterns, *stock_and_orders.urlpatterns, *stock_and_plans.urlpatterns], stock.app_name)),
    room("farmbuild.projects.urls"),
    room("farmbuild.plans.urls"),
    room("farmbuild.buying.urls"),
    room("farmbuild.crew.urls"),
    room("farmbuild.quotes.urls"),
    room("farmbuild.costs.urls"),
    room("farmbuild.coop.urls"),
    room("farmbuild.api.urls"),
    room("farmbuild.moving.urls"),
    room("farmbuild.guide.urls"),
]
# An act is told inside the transaction in which it happens.
recorded_pages(urlpatterns)
counted_once(urlpatterns)
# The administration has no sign-in of its own: that of the site asks for the second step too.
urlpatterns += [
    path("admin/login/", RedirectView.as_view(pattern_name="sign-in", query_string=True), name="admin-sign-in"),
    path("admin/", admin.site.urls),
]
recorded_pages(urlpatterns[-1:])
# What a program sends is counted and told by the interface itself.
urlpatterns += [path("api/", include(programs))]
