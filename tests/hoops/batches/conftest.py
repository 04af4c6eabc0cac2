import pytest

from tests.hoops.batches.making import make_shop


@pytest.fixture
def shop(organisation, user):
    return make_shop(organisation, user)
