import pytest


@pytest.fixture
def in_units(organisation):
    """Put the organisation into a unit system."""

    def change(units: str) -> None:
        organisation.unit_system = units
        organisation.save()

    return change
