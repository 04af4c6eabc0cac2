"""Addresses of members' accounts and statements."""

from django.urls import path

from farmbuild.coop.statement import own, views

_MEMBER = "cooperatives/<slug:lender>"

urlpatterns = [
    path("cooperative/accounts/", views.accounts, name="accounts"),
    path("cooperative/accounts/accounts.xlsx", views.accounts_workbook, name="accounts-workbook"),
    path("cooperative/accounts/accounts.zip", views.accounts_pdfs, name="accounts-pdfs"),
    path("cooperative/accounts/<slug:slug>/", views.account, name="account"),
    path("cooperative/accounts/<slug:slug>/account.pdf", views.account_pdf, name="account-pdf"),
    path("cooperative/accounts/<slug:slug>/account.xlsx", views.account_workbook, name="account-workbook"),
    path("cooperative/accounts/<slug:slug>/paid/", views.payment, name="payment-new"),
    path("cooperative/accounts/<slug:slug>/send/", views.send, name="statement-send"),
    path("cooperative/entries/<int:pk>/", views.entry, name="entry"),
    path("cooperative/statements/<int:number>/", views.statement, name="statement"),
    path("cooperative/statements/<int:number>/statement.pdf", views.statement_pdf, name="statement-pdf"),
    path("cooperative/statements/<int:number>/statement.xlsx", views.statement_workbook, name="statement-workbook"),
    path(f"{_MEMBER}/account/", own.account, name="seen-account"),
    path(f"{_MEMBER}/account/account.pdf", own.account_pdf, name="seen-account-pdf"),
    path(f"{_MEMBER}/account/account.xlsx", own.account_workbook, name="seen-account-workbook"),
    path(f"{_MEMBER}/statements/<int:number>/statement.pdf", own.statement_pdf, name="seen-statement-pdf"),
    path(f"{_MEMBER}/statements/<int:number>/statement.xlsx", own.statement_workbook, name="seen-statement-workbook"),
    path(f"{_MEMBER}/damage/<int:pk>/", own.damage, name="seen-damage"),
    path(f"{_MEMBER}/returns/photos/<int:pk>/whole.jpg", own.picture, {"small": False}, name="seen-photo"),
    path(f"{_MEMBER}/returns/photos/<int:pk>/small.jpg", own.picture, {"small": True}, name="seen-photo-small"),
]
