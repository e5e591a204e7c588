"""Make an undefined template variable fail, where Django would print nothing.

`{% if x %}`, `{% for a in x %}` and `{{ x|default:"-" }}` may still ask for what is not there.
"""

from __future__ import annotations

import copy
from typing import Any

import pytest
from django.template.base import FilterExpression, TokenType, Variable, VariableDoesNotExist
from django.templatetags.i18n import BlockTranslateNode


class UndefinedInTemplateError(AssertionError):
    """A template asked for a variable that nobody gave it."""


class _Strict:
    def __init__(self, variable: Variable) -> None:
        self.variable = variable

    def resolve(self, context: Any) -> Any:
        try:
            return self.variable.resolve(context)
        except VariableDoesNotExist as error:
            raise UndefinedInTemplateError(f"{self.variable.var}: {error}") from error


def make_strict(patch: pytest.MonkeyPatch) -> None:
    """Put the strict reading in place of Django's for as long as `patch` lasts."""
    resolve, render = FilterExpression.resolve, BlockTranslateNode.render

    def strictly(self: FilterExpression, context: Any, ignore_failures: bool = False) -> Any:
        forgiving = bool(self.filters) and self.filters[0][0].__name__ in ("default", "default_if_none")
        if ignore_failures or forgiving or not isinstance(self.var, Variable):
            return resolve(self, context, ignore_failures)
        strict = copy.copy(self)
        strict.var = _Strict(self.var)  # type: ignore[assignment]
        return resolve(strict, context, ignore_failures)

    def strictly_translated(self: BlockTranslateNode, context: Any, nested: bool = False) -> Any:
        tokens = [*self.singular, *(self.plural or [])]
        given = {*self.extra_context, self.countervar}
        for name in (token.contents for token in tokens if token.token_type == TokenType.VAR):
            if name not in given and name not in context:
                raise UndefinedInTemplateError(f"{name} in blocktranslate")
        return render(self, context, nested)

    patch.setattr(FilterExpression, "resolve", strictly)
    patch.setattr(BlockTranslateNode, "render", strictly_translated)
