"""The second step of signing in: a code app on a phone (TOTP, RFC 6238), and codes on paper for a day without it.

What is shared with the app is worked out from a number in the database and the secret of the site, so a copy of the
database alone makes no codes. Another FARMBUILD_SECRET_KEY therefore ends all second steps: ``manage.py
second_step_off NAME`` lets a person in again.
"""

from __future__ import annotations

import base64
import secrets
import time
from datetime import timedelta

import pyotp
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.crypto import constant_time_compare, salted_hmac
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.access import log
from farmbuild.access.codes import digest_of, make_code, plain
from farmbuild.access.models import PaperCode, SecondStep
from farmbuild.common.speaking import said_count
from farmbuild.orgs.models import User

#: Bytes of the shared secret: RFC 4226 recommends 160 bits.
SECRET_BYTES = 20
DIGITS, SECONDS = 6, 30
#: Steps before and after now that are taken too, for a clock that is off (RFC 6238, 5.2, recommends one at most).
WINDOW = 1
PAPER_CODES, PAPER_SIGNS = 10, 12
WRONG_CODES, REST = 5, timedelta(minutes=15)
_REFUSED = _("This code is not right, or was used already. Type the one that the app shows now, or one from paper.")


def totp_of(secret: str) -> pyotp.TOTP:
    """``secret``: in base 32, as code apps take it."""
    return pyotp.TOTP(secret, digits=DIGITS, interval=SECONDS)


def secret_of(step: SecondStep) -> str:
    drawn = salted_hmac("farmbuild.access.second_step", f"{step.user_id}:{step.nonce}", algorithm="sha256").digest()
    return base64.b32encode(drawn[:SECRET_BYTES]).decode()


def app_address(step: SecondStep, *, site: str) -> str:
    """What the square code says to the app. ``site``: the name of the host."""
    return totp_of(secret_of(step)).provisioning_uri(name=step.user.get_username(), issuer_name=f"farmbuild {site}")


def is_on(*, user: User) -> bool:
    return SecondStep.objects.filter(user=user, on_since__isnull=False).exists()


def step_of(*, user: User) -> SecondStep | None:
    return SecondStep.objects.filter(user=user).select_related("user").first()


def papers_left(*, user: User) -> int:
    return PaperCode.objects.filter(user=user, used_at=None).count()


@transaction.atomic
def prepare(*, user: User) -> SecondStep:
    """What is shown to be taken into an app; the same one until it is turned on. Raises ValidationError where it is."""
    User.objects.select_for_update(no_key=True).get(pk=user.pk)
    step, _ = SecondStep.objects.get_or_create(user=user, defaults={"nonce": secrets.token_hex(20)})
    if step.on_since:
        raise ValidationError(gettext("The second step is on already."))
    return step


@transaction.atomic
def turn_on(*, user: User, code: str) -> list[str]:
    """With a code of the app that took it; gives the codes for paper. Raises ValidationError at ``code``."""
    step = SecondStep.objects.select_for_update().filter(user=user).first()
    if step is None or step.on_since:
        raise ValidationError(gettext("This page is no longer up to date. Open it anew."))
    used = _step_of_time(step, code)
    if used is None:
        raise ValidationError(
            {"code": gettext("This is not the code that the app shows now. Look again, and type the new one.")}
        )
    step.on_since, step.last_step, step.wrong, step.rests_until = timezone.now(), used, 0, None
    step.save()
    log.write(log.What.STEP_ON, user=user)
    return _make_papers(user)


@transaction.atomic
def new_papers(*, user: User) -> list[str]:
    """Those before are void. Raises ValidationError where there is no second step."""
    if not SecondStep.objects.select_for_update().filter(user=user, on_since__isnull=False).exists():
        raise ValidationError(gettext("The second step is off. Turn it on first."))
    log.write(log.What.PAPER_MADE, user=user)
    return _make_papers(user)


def _make_papers(user: User) -> list[str]:
    made = [make_code(PAPER_SIGNS) for _ in range(PAPER_CODES)]
    PaperCode.objects.filter(user=user).delete()
    rows = [PaperCode(user=user, salt=secrets.token_hex(12)) for _ in made]
    for row, code in zip(rows, made, strict=True):
        row.digest = _paper_digest(row, plain(code))
    PaperCode.objects.bulk_create(rows)
    return made


def _paper_digest(row: PaperCode, code: str) -> str:
    return digest_of(code, use="paper", salt=row.salt)


@transaction.atomic
def turn_off(*, user: User, by: User | None = None) -> bool:
    """Whether it was on. ``by``: who did it where that is somebody else."""
    was_on = is_on(user=user)
    SecondStep.objects.filter(user=user).delete()
    PaperCode.objects.filter(user=user).delete()
    if was_on:
        log.write(log.What.STEP_OFF, user=user, by=by)
    return was_on


@transaction.atomic
def take_code(*, user: User, code: str) -> str:
    """Empty where the code lets in, else why not. A code of the app or one from paper, each once.

    Nothing is raised: that a try was wrong has to be stored.
    """
    step = SecondStep.objects.select_for_update().filter(user=user, on_since__isnull=False).first()
    if step is None:
        return gettext("The second step was turned off meanwhile. Sign in anew.")
    now = timezone.now()
    if step.rests_until and step.rests_until > now:
        return _resting(step)
    used = _step_of_time(step, code)
    if used is not None:
        step.last_step, step.wrong, step.rests_until = used, 0, None
    elif _take_paper(user, code):
        step.wrong, step.rests_until = 0, None
    else:
        step.wrong += 1
        if step.wrong >= WRONG_CODES:
            step.wrong, step.rests_until = 0, now + REST
    step.save()
    if used is None and step.wrong:
        return _REFUSED
    return _resting(step) if step.rests_until else ""


def _resting(step: SecondStep) -> str:
    return gettext("Too many wrong codes. Wait %(total_seconds)s, then try again.") % {
        "total_seconds": said_count(int(REST.total_seconds()) // 60, "minute")
    }


def _step_of_time(step: SecondStep, typed: str) -> int | None:
    """Which step of time the code is of; None where it is of none that may be used still."""
    code = plain(typed)
    if len(code) != DIGITS or not code.isascii() or not code.isdigit():
        return None
    totp, now = totp_of(secret_of(step)), int(time.time()) // SECONDS
    found = [at for at in range(now - WINDOW, now + WINDOW + 1) if constant_time_compare(totp.generate_otp(at), code)]
    return next((at for at in found if at > step.last_step), None)


def _take_paper(user: User, typed: str) -> bool:
    code = plain(typed)
    for row in PaperCode.objects.select_for_update().filter(user=user, used_at=None):
        if constant_time_compare(_paper_digest(row, code), row.digest):
            row.used_at = timezone.now()
            row.save(update_fields=["used_at"])
            log.write(log.What.PAPER_CODE, user=user)
            return True
    return False
