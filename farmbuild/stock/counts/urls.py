"""Addresses of counts, under stock/counts/."""

from django.urls import path

from farmbuild.stock.counts import import_views, views

urlpatterns = [
    path("", views.counts, name="counts"),
    path("start/", views.start, name="count-start"),
    path("<int:number>/", views.count, name="count"),
    path("<int:number>/sheets/", views.sheets, name="count-sheets"),
    path("<int:number>/sheets.xlsx", views.sheets_xlsx, name="count-xlsx"),
    path("<int:number>/places/<int:pk>/", views.place, name="count-place"),
    path("<int:number>/places/<int:pk>/found/", views.find, name="count-find"),
    path("<int:number>/found/<int:pk>/take-back/", views.take_back, name="count-take-back"),
    path("<int:number>/lines/<int:pk>/", views.line, name="count-line"),
    path("<int:number>/review/", views.review, name="count-review"),
    path("<int:number>/again/", views.again, name="count-again"),
    path("<int:number>/post/", views.post, name="count-post"),
    path("<int:number>/drop/", views.drop, name="count-drop"),
    path("<int:number>/import/", import_views.upload, name="count-import"),
    path("<int:number>/import/<int:pk>/", import_views.preview, name="count-import-preview"),
    path("<int:number>/import/<int:pk>/enter/", import_views.store, name="count-import-store"),
]
