"""What is true of every source file."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest
from django.utils.module_loading import import_string

from tests.architecture.source import here, python_files, tree

# What is worked out from ledgers by these is nobody's doing.
WORKED_OUT = {"bring_up_to_date", "stand_anew", "learn_levels", "learn_groups", "forecast_all", "rebuild"}
LONGEST_FILE, LONGEST_FUNCTION = 400, 40
SHOP, TESTS = python_files("shop"), python_files("tests")
every_file_of_the_shop = pytest.mark.parametrize("path", SHOP, ids=here)


@pytest.mark.parametrize("path", SHOP + TESTS, ids=here)
def test_file_is_short_enough_to_be_read(path: Path) -> None:
    lines = len(path.read_text().splitlines())
    assert lines <= LONGEST_FILE, f"{here(path)} has {lines} lines"


@every_file_of_the_shop
def test_function_is_short_enough_to_be_read(path: Path) -> None:
    long = {node.name: length for node in functions(path) if (length := code_lines(node)) > LONGEST_FUNCTION}
    assert not long


@every_file_of_the_shop
def test_save_says_which_fields(path: Path) -> None:
    for call in (node for node in ast.walk(tree(path)) if isinstance(node, ast.Call)):
        if isinstance(call.func, ast.Attribute) and call.func.attr == "save" and not is_storage(call):
            said = {keyword.arg for keyword in call.keywords}
            assert said & {"update_fields", "force_insert", "using"}, f"{here(path)}:{call.lineno} saves the whole row"


@every_file_of_the_shop
def test_nothing_is_connected_to_signals_but_the_ledger_triggers(path: Path) -> None:
    names = {node.attr for node in ast.walk(tree(path)) if isinstance(node, ast.Attribute)}
    imported = {
        node.module for node in ast.walk(tree(path)) if isinstance(node, ast.ImportFrom) and node.module is not None
    }
    if here(path) != "shop/ledger/apps.py":
        assert not {"pre_save", "post_save", "pre_delete", "post_delete", "m2m_changed"} & names
        assert not {"django.db.models.signals", "django.dispatch"} & imported


@every_file_of_the_shop
def test_no_rule_lives_in_save_or_clean_of_a_model(path: Path) -> None:
    for model in (node for node in ast.walk(tree(path)) if isinstance(node, ast.ClassDef)):
        if any(base.endswith("Model") or base.endswith("Row") for base in map(ast.unparse, model.bases)):
            names = {node.name for node in model.body if isinstance(node, ast.FunctionDef)}
            assert not names & {"save", "delete", "clean", "full_clean"}, f"{here(path)} {model.name}"


@every_file_of_the_shop
def test_time_is_the_plants_and_never_naive(path: Path) -> None:
    for call in (node for node in ast.walk(tree(path)) if isinstance(node, ast.Call)):
        assert ast.unparse(call.func) not in ("datetime.now", "datetime.utcnow", "date.today"), here(path)


def test_services_are_told_by_whom() -> None:
    missing = [
        f"{here(path)} {node.name}"
        for path in SHOP
        if "services" in path.parts or path.name == "services.py"
        if not {"people", "ledger", "errands"} & set(path.parts)
        for node in tree(path).body
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_") and opens_a_transaction(node)
        if node.name not in WORKED_OUT and "by" not in {argument.arg for argument in node.args.kwonlyargs}
    ]
    assert not missing


def test_celery_and_wsgi_are_where_servers_look_for_them() -> None:
    assert callable(import_string("shop.site.wsgi.application"))
    assert import_string("shop.site.celery.app").main == "facewright"


def functions(path: Path) -> list[ast.FunctionDef]:
    return [node for node in ast.walk(tree(path)) if isinstance(node, ast.FunctionDef)]


def code_lines(node: ast.FunctionDef) -> int:
    """Return the lines of a function's body, without its docstring."""
    body = node.body[1:] if ast.get_docstring(node) else node.body
    last = node.end_lineno or node.lineno
    return last - body[0].lineno + 1 if body else 0


def is_storage(call: ast.Call) -> bool:
    return "storage" in ast.unparse(call.func)


def opens_a_transaction(node: ast.FunctionDef) -> bool:
    decorators = [ast.unparse(decorator) for decorator in node.decorator_list]
    return any(decorator == "transaction.atomic" or decorator.startswith("once(") for decorator in decorators)
