"""Two owners who ask for the export at once get one."""

from __future__ import annotations

import pytest

from farmbuild.moving import services
from farmbuild.moving.models import Export
from tests.waiting import comes_second

pytestmark = [pytest.mark.postgres, pytest.mark.django_db(transaction=True)]


def test_one_export_is_written(organisation, user):
    def ask():
        return services.ask_for_export(organisation=organisation, user=user).pk

    assert comes_second(ask, ask) == Export.objects.get().pk
