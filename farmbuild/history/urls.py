from django.urls import path

from farmbuild.history import views

app_name = "history"
urlpatterns = [
    path("changes/", views.changes, name="changes"),
    path("changes/what-changed.xlsx", views.workbook, name="workbook"),
    path("changes/what-changed.csv", views.csv_text, name="csv"),
    path("changes/<uuid:act>/", views.act, name="act"),
]
