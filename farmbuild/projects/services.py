"""A project workbook sent, shown and done: one transaction, all of it or nothing."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy

from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.projects.intake import Intake
from farmbuild.projects.intake_goods import take_offers, take_stock
from farmbuild.projects.models import ProjectDraft
from farmbuild.projects.outcomes import Fault, Outcomes, State
from farmbuild.workbooks.packages import WorkbookError
from farmbuild.workbooks.project import ProjectProblems, read_project_book

__all__ = ["KEEP", "MAX_BYTES", "WorkbookError", "make_draft", "store_draft"]

KEEP = timedelta(days=1)
#: A workbook of 3,000 rows and 2,000 lots is less than a tenth of it.
MAX_BYTES = 10 * 1024 * 1024
GONE = gettext_lazy("This workbook was read in already, or another one was sent since. Send it again.")
CHANGED = gettext_lazy(
    "Something was changed meanwhile, so nothing was stored yet. Look at what it does now, then press again."
)


class _Undo(Exception):
    pass


def _outcomes(
    organisation: Organisation, user: User, data: bytes, filename: str, keep: Callable[[Outcomes], bool]
) -> Outcomes:
    """What the workbook does. It is done where ``keep`` says so of what it does; else all of it is taken back."""
    found = Outcomes()
    try:
        book = read_project_book(data, filename)
    except ProjectProblems as error:
        found.faults = [Fault(said.sheet, said.row, said.column, said.sentence) for said in error.problems]
        return found
    try:
        with transaction.atomic():
            intake = Intake(
                organisation=organisation,
                user=user,
                book=book,
                filename=filename,
                today=today_of(organisation=organisation),
            )
            found = intake.run()
            take_offers(intake)
            take_stock(intake)
            if found.faults or not keep(found):
                raise _Undo
    except _Undo:
        pass
    return found


def _nothing(_: Outcomes) -> bool:
    return False


@needs(Act.PLAN)
@transaction.atomic
def make_draft(*, organisation: Organisation, user: User, data: bytes, filename: str) -> ProjectDraft:
    """Read a workbook and keep it with what it would do. Raises WorkbookError when it is no workbook at all."""
    found = _outcomes(organisation, user, data, filename, _nothing)
    ProjectDraft.objects.filter(user=user).delete()
    ProjectDraft.objects.filter(made_at__lt=timezone.now() - KEEP).delete()
    return ProjectDraft.objects.create(
        organisation=organisation,
        user=user,
        filename=filename[-200:],
        data=data,
        digest=found.digest,
        shown=found.shown(),
    )


@needs(Act.PLAN)
@transaction.atomic
def store_draft(*, organisation: Organisation, user: User, draft: ProjectDraft) -> tuple[bool, dict[str, Any]]:
    """Do what the page said, and use the draft up; (whether it was done, what is shown of it).

    Where it would do something else by now, nothing is done, and the draft shows that. Raises ValidationError where
    the draft is gone.
    """
    # Of two presses at once the second waits here, and finds the draft gone.
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    current = ProjectDraft.objects.of(organisation).select_for_update().filter(pk=draft.pk, user=user).first()
    if current is None:
        raise ValidationError(GONE)
    done = False

    def same(found: Outcomes) -> bool:
        nonlocal done
        done = found.digest == current.digest and found.count(State.NEW, State.CHANGED) > 0
        return done

    found = _outcomes(organisation, user, bytes(current.data), current.filename, same)
    if done:
        current.delete()
    else:
        current.digest, current.shown = found.digest, found.shown()
        current.save(update_fields=["digest", "shown"])
    return done, found.shown()
