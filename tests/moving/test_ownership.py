"""Every table and every column in which a key may stand is somebody's: a new one that nobody placed fails here."""

from __future__ import annotations

import pytest
from django.apps import apps
from django.db.models import BigIntegerField, CharField, ForeignKey, JSONField, PositiveBigIntegerField, TextField

from farmbuild.common.fields import LengthListField
from farmbuild.history.kept import is_secret
from farmbuild.moving import keys
from farmbuild.moving.ownership import (
    LEFT_OUT,
    OF_THE_SERVER,
    OWNED,
    PEOPLE,
    owned_models,
    unplaced,
    way_to_organisation,
)
from farmbuild.moving.telling import OF_OTHERS

#: Columns of secrets by name, each with why it may go along.
NO_SECRETS = {
    "plans.Plan.inputs_digest": "of what the plan was made of",
    "plans.Plan.result_digest": "of the plan",
    "plans.Plan.worker": "goes empty",
    "plans.PlanSavings.worker": "goes empty",
    "plans.PlanFromYard.worker": "goes empty",
    "crew.Schedule.worker": "goes empty",
    "buying.Receipt.token": "of a form that was sent, so that it counts once",
    "buying.Invoice.token": "of a form that was sent, so that it counts once",
    "quotes.QuoteLink.digest": "goes empty",
}
#: What people type, or a choice, whatever its name.
TYPED = {
    "catalogue.Material.yield_source",
    "crew.WindForecast.source",
    "crew.WindLimit.source",
    "quotes.QuoteLine.source",
    "stock.CountEntry.source",
}
#: Names of columns in which a key of another row could stand as text.
_MAY_NAME_A_ROW = ("source", "press", "record", "token", "_key", "key")


def test_every_table_is_placed() -> None:
    assert unplaced() == []
    labels = {model._meta.label for model in apps.get_models(include_auto_created=True)}
    # The queue of workers is there where a server has them.
    assert {*OWNED, *PEOPLE, *LEFT_OUT} <= labels
    assert not OWNED & LEFT_OUT.keys()
    assert not {label.partition(".")[0] for label in labels & {*OWNED, *LEFT_OUT}} & OF_THE_SERVER.keys()
    assert all(LEFT_OUT.values())


def test_a_table_that_nobody_placed_is_found(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("farmbuild.moving.ownership.OWNED", OWNED - {"stock.Lot"})
    assert unplaced() == ["stock.Lot"]


def test_every_row_leads_to_its_organisation() -> None:
    for model in owned_models():
        assert way_to_organisation(model)


def test_rows_name_rows_that_go_along() -> None:
    """Or people; what names a row that stays, or one of another organisation, is told apart."""
    for model in owned_models():
        for field in model._meta.concrete_fields:
            if isinstance(field, ForeignKey):
                assert field.related_model._meta.label in OWNED | PEOPLE, f"{model._meta.label}.{field.name}"
    for column in OF_OTHERS:
        label, _, name = column.rpartition(".")
        assert apps.get_model(label)._meta.get_field(name).null, "what names others can be empty"


def _columns() -> dict[str, object]:
    return {
        f"{model._meta.label}.{field.name}": field for model in owned_models() for field in model._meta.concrete_fields
    }


def _may_hold_a_key(name: str, field: object) -> bool:
    if isinstance(field, JSONField):
        return not isinstance(field, LengthListField)
    if isinstance(field, BigIntegerField | PositiveBigIntegerField):
        return not field.primary_key
    return isinstance(field, CharField | TextField) and name.rpartition(".")[2].endswith(_MAY_NAME_A_ROW)


def test_every_column_that_may_hold_a_key_is_named() -> None:
    columns = _columns()
    wanted = {name for name, field in columns.items() if _may_hold_a_key(name, field)}
    named = keys.REWRITTEN.keys() | keys.KEYLESS | keys.WITH_OTHERS
    assert wanted - named == TYPED
    assert named <= columns.keys()
    assert not keys.REWRITTEN.keys() & keys.KEYLESS


def test_no_secret_goes_along() -> None:
    secrets = {name for name in _columns() if is_secret(name.rpartition(".")[2])}
    assert secrets == NO_SECRETS.keys()
