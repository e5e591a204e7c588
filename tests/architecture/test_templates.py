"""What is true of every template."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.architecture.source import here, templates

every_template = pytest.mark.parametrize("path", templates(), ids=here)

NOT_TEXT = re.compile(
    r"\{% comment .*?endcomment %\}|\{#.*?#\}|<!--.*?-->|<style.*?</style>|<script.*?</script>|<!doctype[^>]*>",
    re.S | re.I,
)
TRANSLATED = re.compile(r"\{% blocktranslate.*?endblocktranslate %\}", re.S)
CLASS_NAMES = re.compile(r"\{% block \w*class\w* %\}.*?\{% endblock \w*\s*%\}", re.S)
TEMPLATE_TAG = re.compile(r"\{%.*?%\}|\{\{.*?\}\}", re.S)
ENTITY = re.compile(r"&(#?\w+);")
TAG = re.compile(r"<[^>]*>", re.S)
SPOKEN = re.compile(r"""\s(?:title|aria-label|placeholder|alt|summary)\s*=\s*"([^"]*)\"""")
WORD = re.compile(r"[^\W\d_]{2,}")
# Names, units and codes that are the same in every language.
SAME_EVERYWHERE = {
    "Facewright", "GU", "HRC", "mm", "cm", "VDI", "ISO", "Ra", "Rq", "Rz", "QR", "PDF", "CSV", "Ref", "λc", "µm",
    "HBW", "SHA",
}  # fmt: skip


@every_template
def test_every_visible_string_can_be_translated(path: Path) -> None:
    source = TRANSLATED.sub("", NOT_TEXT.sub("", path.read_text()))
    source = TEMPLATE_TAG.sub("", CLASS_NAMES.sub("", source))
    spoken = [*SPOKEN.findall(source), ENTITY.sub(" ", TAG.sub("\n", source))]
    words = {word for text in spoken for word in WORD.findall(text)} - SAME_EVERYWHERE
    assert not words, f"{here(path)} says {sorted(words)} in one language only"


@every_template
def test_no_style_or_script_stands_in_the_page(path: Path) -> None:
    source = NOT_TEXT_BUT_CODE.sub("", path.read_text())
    assert not re.search(r"\sstyle\s*=", source), "style attribute: the Content-Security-Policy refuses it"
    assert not re.search(r"\son[a-z]+\s*=\s*[\"']", source), "handler attribute"
    assert not re.search(r"<style\b", source) or "paper" in path.parts, "style element"
    for script in re.findall(r"<script\b[^>]*>", source):
        assert " src=" in script or 'type="application/json"' in script, "script element"
    assert "javascript:" not in source


NOT_TEXT_BUT_CODE = re.compile(r"\{% comment .*?endcomment %\}|\{#.*?#\}|<!--.*?-->", re.S)


@every_template
def test_no_page_fetches_from_elsewhere(path: Path) -> None:
    fetched = re.findall(r"""(?:src|href|action)\s*=\s*["'](https?:)?//""", path.read_text())
    assert not fetched


@every_template
def test_words_kept_elsewhere_are_shown_as_marked(path: Path) -> None:
    # {% translate %} doubles the per cent signs of a variable and then does not find it.
    assert not re.findall(r"\{% translate (?![\"'])[^%]*%\}", path.read_text())


def test_templates_are_found_where_there_are_any() -> None:
    assert all(path.suffix == ".html" for path in templates())


def test_a_word_outside_a_translation_is_seen() -> None:
    source = '<p class="a">{% translate "ok" %} <b>Hello</b></p><img alt="">'
    assert WORD.findall(TAG.sub("\n", TEMPLATE_TAG.sub("", source))) == ["Hello"]
