"""Addresses of hoop batches and bending sheets."""

from django.urls import path

from farmbuild.hoops.batches import sheet_views, views

urlpatterns = [
    path("hoops/batches/", views.BatchList.as_view(), name="batches"),
    path("hoops/batches/new/", views.create, name="batch-new"),
    path("hoops/batches/<int:number>/", views.show, name="batch"),
    path("hoops/batches/<int:number>/issue/", views.issue, name="batch-issue"),
    path("hoops/batches/<int:number>/give-back/", views.give_back, name="batch-give-back"),
    path("hoops/batches/<int:number>/spoilt/", views.spoilt, name="batch-spoilt"),
    path("hoops/batches/<int:number>/trial/", views.measure, name="batch-trial"),
    path("hoops/batches/<int:number>/trial/<int:attempt>/", views.attempt, name="batch-attempt"),
    path("hoops/batches/<int:number>/trial/<int:attempt>/accept/", views.accept, name="batch-accept"),
    path("hoops/batches/<int:number>/trial/<int:attempt>/correct/", views.correct, name="batch-correct"),
    path("hoops/batches/<int:number>/trial/<int:attempt>/spoilt/", views.spoilt, name="batch-attempt-spoilt"),
    path("hoops/batches/<int:number>/bent/", views.bent, name="batch-bent"),
    path("hoops/batches/<int:number>/finish/", views.finish, name="batch-finish"),
    path("hoops/batches/<int:number>/sheet/", sheet_views.batch_sheet, name="batch-sheet"),
    path("hoops/batches/<int:number>/sheet.pdf", sheet_views.batch_pdf, name="batch-sheet-pdf"),
    path("hoops/<slug:slug>/sheet/", sheet_views.recipe_sheet, name="recipe-sheet"),
    path("hoops/<slug:slug>/sheet.pdf", sheet_views.recipe_pdf, name="recipe-sheet-pdf"),
]
