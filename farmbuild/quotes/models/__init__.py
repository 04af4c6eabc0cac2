"""Customers and their jobs, what they are quoted and billed."""

from farmbuild.quotes.models.bills import Bill, BillTerms, Stage
from farmbuild.quotes.models.changes import ChangeOrder
from farmbuild.quotes.models.costs import ToCome
from farmbuild.quotes.models.customers import Customer
from farmbuild.quotes.models.jobs import MAX_PHOTOS, Job, JobHouse, Survey, SurveyPhoto
from farmbuild.quotes.models.quotes import (
    MAX_OPTIONS,
    Option,
    OptionHouse,
    Quote,
    QuoteLine,
    QuoteRates,
    RateFields,
)
from farmbuild.quotes.models.sending import Acceptance, QuoteLink, QuoteVersion

__all__ = [
    "MAX_OPTIONS",
    "MAX_PHOTOS",
    "Acceptance",
    "Bill",
    "BillTerms",
    "ChangeOrder",
    "Customer",
    "Job",
    "JobHouse",
    "Option",
    "OptionHouse",
    "Quote",
    "QuoteLine",
    "QuoteLink",
    "QuoteRates",
    "QuoteVersion",
    "RateFields",
    "Stage",
    "Survey",
    "SurveyPhoto",
    "ToCome",
]
