"""The link by which someone sets a password: Django's own token, good once and for a while."""

from django.conf import settings
from django.contrib.auth.tokens import default_token_generator
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

from farmbuild.orgs.addresses import reverse_outside
from farmbuild.orgs.models import User

DAYS = settings.PASSWORD_RESET_TIMEOUT // 86_400


def password_path(user: User) -> str:
    """Good for ``DAYS`` from now, and until a password is set, voided, or someone signs in."""
    key = urlsafe_base64_encode(force_bytes(user.pk))
    return reverse_outside("set-password", key, default_token_generator.make_token(user))
