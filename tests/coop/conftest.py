import pytest

from tests.coop.making import Cooperative


@pytest.fixture
def coop(organisation, user):
    return Cooperative(organisation, user)
