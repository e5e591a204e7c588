"""The message catalogues: what is marked is found, what is wrong is named, what is compiled is read."""

from __future__ import annotations

import gettext as reader
import os
from io import StringIO
from pathlib import Path

import polib
import pytest
from django.conf import settings
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse

from shop.people.models import Person
from shop.site import catalogues
from shop.site.catalogues import Marked

TEXTS = [
    Marked("Accept"),
    Marked("{count} shots since {day}"),
    Marked("%(count)s face", many="%(count)s faces"),
    Marked("May", context="month"),
]


@pytest.fixture
def elsewhere(tmp_path: Path, settings: object) -> Path:
    settings.LOCALE_PATHS = [tmp_path]  # type: ignore[attr-defined]
    return tmp_path


def translated() -> polib.POFile:
    """A catalogue of these texts without a fault."""
    made = catalogues.gather("de", TEXTS)
    for entry in made:
        if entry.msgid_plural:
            entry.msgstr_plural = {0: "%(count)s Fläche", 1: "%(count)s Flächen"}
        else:
            entry.msgstr = {
                "Accept": "Annehmen", "May": "Mai", "{count} shots since {day}": "{count} Schuss seit {day}",
            }[entry.msgid]  # fmt: skip
    made.save(str(catalogues.catalogue("de")))
    return made


def named() -> list[str]:
    """What is said of the German catalogue."""
    return [fault.what for fault in catalogues.faults("de", TEXTS)]


# -- what is marked -------------------------------------------------------------------------------------------------


def test_texts_are_found_in_python_by_every_way_of_marking() -> None:
    source = (
        '_("a"); gettext_lazy("b" "c"); refusal.gettext_noop("d"); ngettext("e", "f", n); pgettext("month", "May")\n'
        'f"{_(\'in here\')}"; gettext(words); unknown("no"); [_ for _ in x]\n'
    )
    assert set(catalogues.marked_in_python(source)) == {
        Marked("a"), Marked("bc"), Marked("d"), Marked("e", many="f"), Marked("May", context="month"),
        Marked("in here"),
    }  # fmt: skip


def test_texts_are_found_in_a_template_as_it_asks_for_them() -> None:
    source = (
        '{% load i18n %}{% translate "a (b)" %}{% translate "May" context "month" %}{{ x|default:_("none") }}\n'
        '{% translate \'say "so"\' as said %}{% include "x.html" with words=_("with") %}\n'
        "{% blocktranslate trimmed with n=x|day %}\n  until\n  {{ n }}, 5 %\n{% endblocktranslate %}"
        "{% blocktranslate count n=x %}{{ n }} face{% plural %}{{ n }} faces{% endblocktranslate %}"
    )
    assert set(catalogues.marked_in_template(source)) == {
        Marked("a (b)"), Marked("May", context="month"), Marked("none"), Marked('say "so"'), Marked("with"),
        Marked("until %(n)s, 5 %%"), Marked("%(n)s face", many="%(n)s faces"),
    }  # fmt: skip


def test_a_text_marked_alone_and_with_its_plural_is_one_entry(tmp_path: Path) -> None:
    (tmp_path / "shop").mkdir()
    (tmp_path / "shop" / "a.py").write_text('_("face"); ngettext("face", "faces", 2)')
    assert catalogues.marked(tmp_path) == {("", "face"): Marked("face", many="faces")}


# -- gathering ------------------------------------------------------------------------------------------------------


def test_gathering_again_changes_nothing(elsewhere: Path) -> None:
    translated()
    before = catalogues.catalogue("de").read_bytes()
    catalogues.gather("de", reversed(TEXTS))
    assert catalogues.catalogue("de").read_bytes() == before
    assert b"POT-Creation-Date" not in before
    assert b"\n#: " not in before
    assert str(elsewhere).encode() not in before


def test_a_translation_is_put_by_when_its_text_goes_and_is_there_when_it_comes_back(elsewhere: Path) -> None:
    translated()
    catalogues.gather("de", TEXTS[1:])
    assert [entry.msgid for entry in catalogues.read("de").obsolete_entries()] == ["Accept"]
    catalogues.gather("de", TEXTS)
    assert named() == []
    catalogues.gather("de", TEXTS[1:], drop=True)
    assert catalogues.read("de").obsolete_entries() == []


# -- faults ---------------------------------------------------------------------------------------------------------


def test_a_whole_catalogue_has_no_fault(elsewhere: Path) -> None:
    translated()
    assert named() == []


def test_a_text_without_a_translation_is_missing(elsewhere: Path) -> None:
    made = translated()
    made.find("Accept").msgstr = ""
    made.find("%(count)s face").msgstr_plural = {0: "%(count)s Fläche", 1: ""}
    made.save(str(catalogues.catalogue("de")))
    assert named() == ["missing", "missing"]


def test_a_text_that_was_not_gathered_is_missing(elsewhere: Path) -> None:
    translated()
    assert [str(fault) for fault in catalogues.faults("de", [*TEXTS, Marked("Turn down")])] == [
        "de: missing: 'Turn down'"
    ]


def test_fuzzy_and_obsolete_are_named(elsewhere: Path) -> None:
    made = translated()
    made.find("Accept").flags = ["fuzzy"]
    made.append(polib.POEntry(msgid="Old", msgstr="Alt", obsolete=True))
    made.save(str(catalogues.catalogue("de")))
    assert named() == ["fuzzy", "obsolete"]


@pytest.mark.parametrize(
    ("english", "german"),
    [
        ("{count} shots", "Schuss"),
        ("{count} shots", "{anzahl} Schuss"),
        ("%(count)s shots", "%(count) Schuss"),
        ("%(share)s %%", "%(share)s %"),
        ("{value:.1f} of", "{value} von"),
        ("  end", "Ende"),
    ],
)
def test_a_place_lost_in_translation_is_named(elsewhere: Path, english: str, german: str) -> None:
    made = catalogues.gather("de", [Marked(english)])
    made[0].msgstr = german
    made.save(str(catalogues.catalogue("de")))
    assert len(catalogues.faults("de", [Marked(english)])) == 1


def test_check_fails_and_names_what_is_wrong(elsewhere: Path) -> None:
    said = StringIO()
    with pytest.raises(CommandError, match="faults in the message catalogues"):
        call_command("catalogues", "check", stdout=said)
    assert "de: missing: 'Tool list'" in said.getvalue()


# -- compiling ------------------------------------------------------------------------------------------------------


def test_compiling_needs_no_tool_of_the_system(elsewhere: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", "")
    translated()
    (compiled,) = catalogues.compile_new()
    with compiled.open("rb") as opened:
        words = reader.GNUTranslations(opened)
    assert words.gettext("Accept") == "Annehmen"
    assert words.ngettext("%(count)s face", "%(count)s faces", 2) == "%(count)s Flächen"
    assert words.pgettext("month", "May") == "Mai"


def test_only_what_changed_is_compiled_and_nothing_else_is_left(elsewhere: Path) -> None:
    translated()
    (compiled,) = catalogues.compile_new()
    assert catalogues.compile_new() == []
    newer = compiled.stat().st_mtime_ns + 1
    os.utime(catalogues.catalogue("de"), ns=(newer, newer))
    assert catalogues.compile_new() == [compiled]
    assert sorted(path.name for path in compiled.parent.iterdir()) == ["django.mo", "django.po"]


def test_a_catalogue_that_was_written_while_it_was_compiled_is_compiled_again(
    elsewhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    translated()
    reading = catalogues.read

    def overtaken(language: str) -> polib.POFile:
        old = reading(language)
        new = reading(language)
        new.find("Accept").msgstr = "Zusagen"
        new.save(str(catalogues.catalogue(language)))
        return old

    with monkeypatch.context() as meanwhile:
        meanwhile.setattr(catalogues, "read", overtaken)
        catalogues.compile_new()
    (compiled,) = catalogues.compile_new()
    with compiled.open("rb") as opened:
        assert reader.GNUTranslations(opened).gettext("Accept") == "Zusagen"


def test_a_compiled_catalogue_stays_when_the_new_one_cannot_be_written(
    elsewhere: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    translated()
    (compiled,) = catalogues.compile_new()
    before = compiled.read_bytes()
    newer = compiled.stat().st_mtime_ns + 1
    os.utime(catalogues.catalogue("de"), ns=(newer, newer))

    def full(path: Path, content: bytes) -> int:
        with path.open("wb") as out:
            out.write(content[:10])
        raise OSError("no space left on device")

    monkeypatch.setattr(Path, "write_bytes", full)
    with pytest.raises(OSError, match="no space"):
        catalogues.compile_new()
    assert compiled.read_bytes() == before
    assert sorted(path.name for path in compiled.parent.iterdir()) == ["django.mo", "django.po"]


# -- the catalogues as they are -------------------------------------------------------------------------------------


@pytest.mark.parametrize("language", [code for code, _ in settings.LANGUAGES if code != "en"])
def test_every_text_is_translated_with_its_places(language: str) -> None:
    faults = catalogues.faults(language, catalogues.marked().values())
    assert [str(fault) for fault in faults] == [], "run `manage.py catalogues gather` and translate what is new"


def test_every_text_of_the_source_is_asked_for() -> None:
    texts = {text for _context, text in catalogues.marked()}
    assert len(texts) > 1500
    # One of a page, a refusal, the pure core, a choice, a table of the trade, a command.
    assert {
        "Tool list",
        "Tool {tool} is disposed of.",
        "in draw",
        "toolroom lead",
        "Never reject on Ra alone.",
        "Sign in as",
    } <= texts


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("language", "words"), [("de", "Werkzeugliste"), ("es", "Lista de moldes"), ("en", "Tool list")]
)
def test_a_person_reads_every_page_in_their_own_language(
    client: Client, lead: Person, language: str, words: str
) -> None:
    Person.objects.filter(pk=lead.pk).update(language=language)
    client.force_login(Person.objects.get(pk=lead.pk))
    # What the browser would rather have counts before signing in; after that the person's own choice does.
    page = client.get(reverse("tool-list"), headers={"accept-language": "es" if language == "de" else "de"})
    assert page.headers["Content-Language"] == language
    assert f'<html lang="{language}"' in page.text
    assert f"<h1>{words}" in page.text


@pytest.mark.django_db
@pytest.mark.parametrize(("asked", "words"), [("de-AT,en;q=0.5", "Anmelden"), ("es", "Entrar"), ("fr", "Sign in")])
def test_the_sign_in_speaks_the_browser_s_language(client: Client, asked: str, words: str) -> None:
    assert f"<h1>{words}" in client.get(reverse("sign-in"), headers={"accept-language": asked}).text
