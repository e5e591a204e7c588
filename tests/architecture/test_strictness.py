"""The tests' own strictness: what a template was not given fails, what it may ask for does not."""

from __future__ import annotations

import pytest
from django.template import Context, Template

from tests.strict_templates import UndefinedInTemplateError


@pytest.mark.parametrize(
    "source",
    [
        "{{ missing }}",
        "{{ tool.missing }}",
        "{{ none.number }}",
        "{{ missing|upper }}",
        "{% with a=missing %}{% endwith %}",
        "{% load i18n %}{% blocktranslate %}{{ missing }} shots{% endblocktranslate %}",
        "{% load i18n %}{% blocktranslate with a=missing %}{{ a }}{% endblocktranslate %}",
    ],
)
def test_undefined_variable_fails(source: str) -> None:
    with pytest.raises(UndefinedInTemplateError):
        Template(source).render(Context({"tool": object(), "none": None}))


@pytest.mark.parametrize(
    ("source", "shown"),
    [
        ("{% if missing %}a{% else %}b{% endif %}", "b"),
        ("{% for a in missing %}a{% empty %}b{% endfor %}", "b"),
        ("{{ missing|default:'b' }}", "b"),
        ("{% firstof missing 'b' %}", "b"),
        ("{% load i18n %}{% blocktranslate count n=2 %}{{ n }} shot{% plural %}{{ n }} shots{% endblocktranslate %}",
         "2 shots"),
        ("{% load i18n %}{% blocktranslate with a='b' %}{{ a }}{% endblocktranslate %}", "b"),
        ("{{ given }}", "None"),
    ],
)  # fmt: skip
def test_a_template_may_ask_whether_something_is_there(source: str, shown: str) -> None:
    assert Template(source).render(Context({"given": None})) == shown
