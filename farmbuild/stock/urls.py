"""Addresses of this app."""

from django.urls import include, path

from farmbuild.stock.labels.views import labels
from farmbuild.stock.owners import views as owners
from farmbuild.stock.views import imports, ledger, lots
from farmbuild.stock.yard import views as yard

app_name = "stock"
urlpatterns = [
    path("stock/", lots.lots, name="lots"),
    path("stock/yard/", yard.yard, name="yard"),
    path("stock/receive/", lots.receive, name="receive"),
    path("stock/lots/<int:pk>/", lots.lot, name="lot"),
    path("stock/lots/<int:pk>/edit/", lots.edit, name="lot-edit"),
    path("stock/lots/<int:pk>/count/", lots.count, name="lot-count"),
    path("stock/lots/<int:pk>/scrap/", lots.scrap, name="lot-scrap"),
    path("stock/lots/<int:pk>/issue/", ledger.issue, name="lot-issue"),
    path("stock/lots/<int:pk>/return/", ledger.bring_back, name="lot-return"),
    path("stock/lots/<int:pk>/move/", ledger.move, name="lot-move"),
    path("stock/lots/<int:pk>/lend/", ledger.lend, name="lot-lend"),
    path("stock/lots/<int:pk>/cut/", ledger.cut, name="lot-cut"),
    path("stock/lots/<int:pk>/leave/", owners.give, name="lot-leave"),
    path("stock/leave/<int:pk>/end/", owners.end, name="lot-leave-end"),
    path("stock/ledger/", ledger.ledger, name="ledger"),
    path("stock/loans/", ledger.loans, name="loans"),
    path("stock/movements/<int:pk>/", ledger.movement, name="movement"),
    path("stock/movements/<int:pk>/reverse/", ledger.reverse_movement, name="reverse"),
    path("stock/movements/<int:pk>/return/", ledger.put_back, name="put-back"),
    path("stock/movements/<int:pk>/loan-return/", ledger.give_back, name="give-back"),
    path("stock/labels/", labels.labels, name="labels"),
    path("l/<path:reference>/", labels.short, name="lot-short"),
    path("stock/counts/", include("farmbuild.stock.counts.urls")),
    path("stock/places/", lots.places, name="places"),
    path("stock/places/<int:pk>/", lots.place, name="place"),
    path("stock/import/", imports.upload, name="import"),
    path("stock/import/<int:pk>/", imports.preview, name="import-preview"),
    path("stock/import/<int:pk>/store/", imports.store, name="import-store"),
    path("stock/import/<int:pk>/progress/", imports.progress, name="import-progress"),
    path("stock/import/<int:pk>/run/", imports.run, name="import-run"),
    path("stock/import/<int:pk>/stop/", imports.stop, name="import-stop"),
    path("stock/import/lots.xlsx", imports.template_xlsx, name="template-xlsx"),
    path("stock/import/lots.csv", imports.template_csv, name="template-csv"),
]
