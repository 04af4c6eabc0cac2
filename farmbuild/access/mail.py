"""E-mail, where whoever keeps the server has set it up (FARMBUILD_EMAIL); nothing here needs it."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from smtplib import SMTPException

from django.conf import settings
from django.core.mail import EmailMessage
from django.template.loader import render_to_string

_log = logging.getLogger(__name__)


def is_set_up() -> bool:
    return bool(settings.EMAIL_HOST)


def send(*, to: str, subject: str, template: str, headers: Mapping[str, str] | None = None, **context: object) -> bool:
    """Whether the mail server took it. ``template``: of plain text."""
    message = EmailMessage(
        subject=" ".join(subject.split()), body=render_to_string(template, context), to=[to], headers=headers
    )
    try:
        return bool(message.send())
    except (OSError, SMTPException):
        # What went wrong is for whoever keeps the server; the page has the link anyway.
        _log.exception("E-mail could not be sent.")
        return False
