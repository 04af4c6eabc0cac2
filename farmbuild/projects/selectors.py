"""Reads of workbooks that were sent."""

from __future__ import annotations

from django.db.models import QuerySet

from farmbuild.orgs.models import Organisation, User
from farmbuild.projects.models import ProjectDraft


def drafts_of(*, organisation: Organisation, user: User) -> QuerySet[ProjectDraft]:
    """Without the workbook itself, which no page needs."""
    return ProjectDraft.objects.of(organisation).filter(user=user).defer("data")
