"""Addresses of what is sent."""

from django.urls import path

from farmbuild.quotes.sending.views import versions

urlpatterns = [
    path("quotes/<int:number>/send/", versions.send, name="send"),
    path("quotes/<int:number>/versions/<int:version>/", versions.show, name="version"),
    path("quotes/<int:number>/versions/<int:version>/quote.pdf", versions.pdf, name="version-pdf"),
    path("quotes/<int:number>/versions/<int:version>/quote.xlsx", versions.workbook, name="version-workbook"),
    path("quotes/<int:number>/versions/<int:version>/link/", versions.link_new, name="link-new"),
    path("quotes/<int:number>/versions/<int:version>/accept/", versions.accept, name="accept-behalf"),
    path("quotes/<int:number>/versions/<int:version>/withdraw/", versions.withdraw, name="withdraw"),
    path("quotes/links/<int:pk>/end/", versions.link_end, name="link-end"),
]
