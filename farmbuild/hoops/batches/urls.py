"""Addresses of hoop batches, bending sheets, and of a bender with what was bent on it."""

from django.urls import path

from farmbuild.hoops.batches.measured.views import bender, wear
from farmbuild.hoops.batches.views import batches, sheets, sticks, trials

urlpatterns = [
    path("hoops/batches/", batches.BatchList.as_view(), name="batches"),
    path("hoops/batches/new/", batches.create, name="batch-new"),
    path("hoops/batches/<int:number>/", batches.show, name="batch"),
    path("hoops/batches/<int:number>/issue/", sticks.issue, name="batch-issue"),
    path("hoops/batches/<int:number>/return/", sticks.give_back, name="batch-give-back"),
    path("hoops/batches/<int:number>/spoilt/", sticks.spoilt, name="batch-spoilt"),
    path("hoops/batches/<int:number>/trial/", trials.measure, name="batch-trial"),
    path("hoops/batches/<int:number>/trial/<int:attempt>/", trials.attempt, name="batch-attempt"),
    path("hoops/batches/<int:number>/trial/<int:attempt>/accept/", trials.accept, name="batch-accept"),
    path(
        "hoops/batches/<int:number>/trial/<int:attempt>/accept-outside/",
        trials.accept_outside,
        name="batch-accept-outside",
    ),
    path("hoops/batches/<int:number>/tolerance/", batches.tolerance, name="batch-tolerance"),
    path("hoops/batches/<int:number>/trial/<int:attempt>/correct/", trials.correct, name="batch-correct"),
    path("hoops/batches/<int:number>/trial/<int:attempt>/spoilt/", sticks.spoilt, name="batch-attempt-spoilt"),
    path("hoops/batches/<int:number>/bent/", batches.bent, name="batch-bent"),
    path("hoops/batches/<int:number>/take-back/", batches.take_back, name="batch-take-back"),
    path("hoops/batches/<int:number>/finish/", batches.finish, name="batch-finish"),
    path("hoops/batches/<int:number>/sheet/", sheets.batch_sheet, name="batch-sheet"),
    path("hoops/batches/<int:number>/sheet.pdf", sheets.batch_pdf, name="batch-sheet-pdf"),
    path("hoops/benders/<slug:slug>/", bender.show, name="bender"),
    path("hoops/benders/<slug:slug>/wear/", wear.show, name="bender-wear"),
    path("hoops/benders/<slug:slug>/history.csv", wear.history, name="bender-history"),
    path("hoops/benders/<slug:slug>/services/new/", wear.service, name="bender-service"),
    path("hoops/benders/<slug:slug>/services/<int:pk>/", wear.service_back, name="bender-service-back"),
    path("hoops/benders/<slug:slug>/hoops/new/", wear.hoop, name="bender-hoop"),
    path("hoops/benders/<slug:slug>/hoops/<int:pk>/", wear.hoop_back, name="bender-hoop-back"),
    path("hoops/<slug:slug>/sheet/", sheets.recipe_sheet, name="recipe-sheet"),
    path("hoops/<slug:slug>/sheet.pdf", sheets.recipe_pdf, name="recipe-sheet-pdf"),
]
