"""Addresses of this app."""

from django.urls import include, path

from farmbuild.stock import import_views, ledger_views, views
from farmbuild.stock.labels import views as labels
from farmbuild.stock.reserving import views as held

app_name = "stock"
urlpatterns = [
    path("stock/", views.lots, name="lots"),
    path("stock/receive/", views.receive, name="receive"),
    path("stock/lots/<int:pk>/", views.lot, name="lot"),
    path("stock/lots/<int:pk>/edit/", views.edit, name="lot-edit"),
    path("stock/lots/<int:pk>/count/", views.count, name="lot-count"),
    path("stock/lots/<int:pk>/scrap/", views.scrap, name="lot-scrap"),
    path("stock/lots/<int:pk>/issue/", ledger_views.issue, name="lot-issue"),
    path("stock/lots/<int:pk>/return/", ledger_views.bring_back, name="lot-return"),
    path("stock/lots/<int:pk>/move/", ledger_views.move, name="lot-move"),
    path("stock/lots/<int:pk>/lend/", ledger_views.lend, name="lot-lend"),
    path("stock/lots/<int:pk>/cut/", ledger_views.cut, name="lot-cut"),
    path("stock/held/", held.held, name="held"),
    path("stock/held/<int:pk>/", held.one, name="held-one"),
    path("stock/held/<int:pk>/release/", held.release, name="held-release"),
    path("stock/held/<int:pk>/cut/", held.cut, name="held-cut"),
    path("stock/held/<int:pk>/swap/<int:other>/", held.swap, name="swap"),
    path("stock/ledger/", ledger_views.ledger, name="ledger"),
    path("stock/loans/", ledger_views.loans, name="loans"),
    path("stock/movements/<int:pk>/", ledger_views.movement, name="movement"),
    path("stock/movements/<int:pk>/reverse/", ledger_views.reverse_movement, name="reverse"),
    path("stock/movements/<int:pk>/give-back/", ledger_views.give_back, name="give-back"),
    path("stock/lots/<int:pk>/receive/", labels.receive_more, name="lot-receive"),
    path("stock/labels/", labels.labels, name="labels"),
    path("l/<path:reference>/", labels.short, name="lot-short"),
    path("stock/availability/", include("farmbuild.stock.availability.urls")),
    path("stock/season-end/", include("farmbuild.stock.seasonend.urls")),
    path("stock/counts/", include("farmbuild.stock.counts.urls")),
    path("stock/places/", views.places, name="places"),
    path("stock/places/<int:pk>/", views.place, name="place"),
    path("stock/import/", import_views.upload, name="import"),
    path("stock/import/<int:pk>/", import_views.preview, name="import-preview"),
    path("stock/import/<int:pk>/store/", import_views.store, name="import-store"),
    path("stock/import/lots.xlsx", import_views.template_xlsx, name="template-xlsx"),
    path("stock/import/lots.csv", import_views.template_csv, name="template-csv"),
]
