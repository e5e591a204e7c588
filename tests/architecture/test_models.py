"""What is true of every model."""

from __future__ import annotations

import tomllib
from pathlib import Path
from weakref import ReferenceType

import pytest
from django.apps import apps
from django.conf import settings
from django.db import models
from django.db.models.signals import ModelSignal, post_migrate

from shop.ledger.models import LedgerRow

ROOT = Path(settings.BASE_DIR)
OURS = [model for model in apps.get_models() if model.__module__.startswith("shop.")]
by_model = pytest.mark.parametrize("model", OURS, ids=lambda model: model._meta.label)


def floors() -> dict[str, int]:
    """Return the floor of each room, counted from the ground, as import-linter is told it."""
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]["contracts"]
    layers = next(contract["layers"] for contract in contracts if contract["type"] == "layers")
    return {
        room.strip(" ()"): floor for floor, rooms in enumerate(reversed(layers)) for room in rooms.split("|")
    }


@by_model
def test_foreign_keys_point_to_the_same_floor_or_lower(model: type[models.Model]) -> None:
    floor = floors()
    for field in model._meta.get_fields():
        if isinstance(field, models.ForeignKey) and not (issubclass(model, LedgerRow) and field.name == "by"):
            target = field.related_model
            assert floor[target._meta.app_label] <= floor[model._meta.app_label], f"{field} looks up"


@by_model
def test_nothing_is_deleted_because_something_else_is(model: type[models.Model]) -> None:
    for field in model._meta.get_fields():
        if isinstance(field, models.ForeignKey):
            assert field.remote_field.on_delete in (models.PROTECT, models.SET_NULL), field


@by_model
def test_constraints_hold_on_both_engines(model: type[models.Model]) -> None:
    # SQLite's tables get no constraint at all for what Django says it does not support: it only warns.
    for constraint in model._meta.constraints:
        if isinstance(constraint, models.UniqueConstraint):
            assert constraint.nulls_distinct is None, f"{constraint.name}: unique over Coalesce(..., 0) instead"
            assert not constraint.include, constraint.name
            assert constraint.deferrable is None, constraint.name


@by_model
def test_ledger_rows_know_when_and_by_whom(model: type[models.Model]) -> None:
    if issubclass(model, LedgerRow):
        assert {"at", "entered_at", "by"} <= {field.name for field in model._meta.concrete_fields}


def test_there_is_no_django_admin() -> None:
    assert not apps.is_installed("django.contrib.admin")


def test_the_only_signal_of_ours_sets_the_ledger_triggers() -> None:
    known = [value for value in vars(models.signals).values() if isinstance(value, ModelSignal)]
    receivers = [
        (signal, reference() if isinstance(reference, ReferenceType) else reference)
        for signal in [*known, post_migrate]
        for _key, reference, *_rest in signal.receivers
    ]
    ours = {
        (signal, receiver.__module__)
        for signal, receiver in receivers
        if receiver is not None and receiver.__module__.startswith("shop.")
    }
    assert ours == {(post_migrate, "shop.ledger.triggers")}
