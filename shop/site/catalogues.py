"""The message catalogues: what the source marks, what is translated of it, and the files that are read at run time.

Pure Python from the source to the `.mo`: an installation needs nothing of gettext's own tools.
"""

from __future__ import annotations

import ast
import os
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

import polib
from django.conf import settings
from django.utils.translation.template import templatize

# The functions that mark a text, and what their arguments are: a text, the text for many, a context.
MARKS: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("_", "gettext", "gettext_lazy", "gettext_noop"), ("text",)),
    **dict.fromkeys(("ngettext", "ngettext_lazy"), ("text", "many")),
    **dict.fromkeys(("pgettext", "pgettext_lazy"), ("context", "text")),
    **dict.fromkeys(("npgettext", "npgettext_lazy"), ("context", "text", "many")),
}
MARKED_IN_TEMPLATE = re.compile(rf"\b({'|'.join(sorted(MARKS, key=len, reverse=True))})\(")
# What a translation has to leave in: {name}, %(name)s and the doubled per cent sign.
PLACE = re.compile(r"\{\w*(?:![rsa])?(?::[^{}]*)?\}|%\(\w+\)[sd]|%%")
WRAP = 110


@dataclass(frozen=True, order=True)
class Marked:
    """A text that the source marks for translation."""

    text: str
    context: str = ""
    many: str = ""


@dataclass(frozen=True)
class Fault:
    """What is wrong with one text in one catalogue."""

    language: str
    what: str
    text: str

    def __str__(self) -> str:
        return f"{self.language}: {self.what}: {self.text!r}"


def catalogue(language: str) -> Path:
    """Return where the translations into a language are kept."""
    return Path(settings.LOCALE_PATHS[0]) / language / "LC_MESSAGES" / "django.po"


def languages() -> list[str]:
    """Return the languages that are translated into: all that are offered but the source's own."""
    return [code for code, _ in settings.LANGUAGES if code != settings.LANGUAGE_CODE]


# -- what the source marks ------------------------------------------------------------------------------------------


def marked_in_python(source: str) -> Iterator[Marked]:
    """Yield the texts that a module marks; a marking of something that is not written out there is none."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Call) and (roles := MARKS.get(_name(node.func))) and len(node.args) >= len(roles):
            given = dict(zip(roles, map(_written_out, node.args), strict=False))
            if all(text is not None for text in given.values()):
                yield Marked(**{role: text or "" for role, text in given.items()})


def marked_in_template(source: str) -> Iterator[Marked]:
    """Yield the texts that a template marks, as Django will ask for them."""
    shown = templatize(source)
    for match in MARKED_IN_TEMPLATE.finditer(shown):
        call = _closed(shown[match.start() :])
        if call is not None:
            yield from marked_in_python(call)


def marked(root: Path | None = None) -> dict[tuple[str, str], Marked]:
    """Return every text that our modules and templates mark, by context and text."""
    root = root or Path(settings.BASE_DIR)
    found: set[Marked] = set()
    for path in sorted((root / "shop").rglob("*.py")):
        if "migrations" not in path.parts:
            found.update(marked_in_python(path.read_text(encoding="utf-8")))
    for path in sorted((root / "templates").rglob("*.html")):
        found.update(marked_in_template(path.read_text(encoding="utf-8")))
    # A text marked alone and with its plural is one entry; sorted, the one with the plural comes last and stays.
    return {(each.context, each.text): each for each in sorted(found) if each.text}


def _name(function: ast.expr) -> str:
    if isinstance(function, ast.Name):
        return function.id
    return function.attr if isinstance(function, ast.Attribute) else ""


def _written_out(argument: ast.expr) -> str | None:
    return argument.value if isinstance(argument, ast.Constant) and isinstance(argument.value, str) else None


def _closed(shown: str) -> str | None:
    """Return the call at the beginning of the text, found by the first closing bracket at which it can be read."""
    for end in (match.end() for match in re.finditer(r"\)", shown)):
        try:
            ast.parse(shown[:end])
        except SyntaxError:
            continue
        return shown[:end]
    return None


# -- the catalogues -------------------------------------------------------------------------------------------------


def read(language: str) -> polib.POFile:
    """Return a language's catalogue; an empty one where there is none yet."""
    path = catalogue(language)
    if path.exists():
        return polib.pofile(str(path), wrapwidth=WRAP, check_for_duplicates=True)
    empty = polib.POFile(wrapwidth=WRAP)
    empty.metadata = {
        "Language": language,
        "MIME-Version": "1.0",
        "Content-Type": "text/plain; charset=UTF-8",
        "Content-Transfer-Encoding": "8bit",
        "Plural-Forms": "nplurals=2; plural=(n != 1);",
    }
    return empty


def gather(language: str, texts: Iterable[Marked], *, drop: bool = False) -> polib.POFile:
    """Bring a catalogue up to what is marked, sorted and without a word on where or when; write and return it.

    A translation whose text is marked no more is put by as obsolete, in case the text comes back; `drop` throws
    those away.
    """
    old = read(language)
    known = {(entry.msgctxt or "", entry.msgid): entry for entry in old}
    new = polib.POFile(wrapwidth=WRAP)
    new.header, new.metadata = old.header, old.metadata
    for each in sorted(texts):
        entry = _entry(each, known.pop((each.context, each.text), None))
        new.append(entry)
    for entry in sorted(known.values(), key=lambda entry: (entry.msgid, entry.msgctxt or "")):
        if not drop and (entry.msgstr or any(entry.msgstr_plural.values())):
            entry.obsolete = True
            new.append(entry)
    path = catalogue(language)
    path.parent.mkdir(parents=True, exist_ok=True)
    _written(path, str(new).encode())
    return new


def _entry(each: Marked, known: polib.POEntry | None) -> polib.POEntry:
    entry = polib.POEntry(msgid=each.text, msgid_plural=each.many, msgctxt=each.context or None)
    if each.many:
        entry.msgstr_plural = dict(known.msgstr_plural) if known and known.msgid_plural else {0: "", 1: ""}
    elif known:
        entry.msgstr = known.msgstr or known.msgstr_plural.get(0, "")
    if known:
        entry.tcomment, entry.flags = known.tcomment, list(known.flags)
    return entry


def faults(language: str, texts: Iterable[Marked]) -> list[Fault]:
    """Return what a catalogue lacks of what is marked, and what is wrong in it."""
    entries = {(entry.msgctxt or "", entry.msgid): entry for entry in read(language)}
    found: list[Fault] = []
    for each in sorted(texts):
        entry = entries.pop((each.context, each.text), None)
        if entry is None or entry.obsolete:
            found.append(Fault(language, "missing", each.text))
        else:
            found += [Fault(language, what, each.text) for what in _wrong(each, entry)]
    found += [Fault(language, "obsolete", text) for _, text in sorted(entries)]
    return found


def _wrong(each: Marked, entry: polib.POEntry) -> Iterator[str]:
    said = [entry.msgstr_plural.get(number, "") for number in (0, 1)] if each.many else [entry.msgstr]
    if not all(said) or bool(entry.msgid_plural) != bool(each.many):
        yield "missing"
        return
    if entry.fuzzy:
        yield "fuzzy"
    asked = [each.text, each.many] if each.many else [each.text]
    for english, words in zip(asked, said, strict=True):
        if places(english) != places(words):
            yield f"placeholders {places(english)} became {places(words)}"
        if _edges(english) != _edges(words):
            yield "white space at the ends differs"


def places(text: str) -> list[str]:
    """Return what a translation of the text has to leave in."""
    return sorted(set(PLACE.findall(text)))


def _edges(text: str) -> tuple[str, str]:
    return text[: len(text) - len(text.lstrip())], text[len(text.rstrip()) :]


# -- the files that are read at run time ----------------------------------------------------------------------------


def compile_new(wanted: Sequence[str] | None = None) -> list[Path]:
    """Compile the catalogues that changed since they were compiled; return what was written."""
    made = []
    for language in languages() if wanted is None else wanted:
        source = catalogue(language)
        compiled = source.with_suffix(".mo")
        if not source.exists():
            continue
        # It carries its source's time: one that was compiled while the source was being written is seen to be old.
        of_source = source.stat().st_mtime_ns
        if not compiled.exists() or compiled.stat().st_mtime_ns != of_source:
            _written(compiled, read(language).to_binary(), time_ns=of_source)
            made.append(compiled)
    return made


def _written(path: Path, content: bytes, *, time_ns: int | None = None) -> None:
    # Another process may read the file this moment: it sees the old one or the new one, never half of it.
    beside = path.with_name(f"{path.name}.{os.getpid()}")
    try:
        beside.write_bytes(content)
        if time_ns is not None:
            os.utime(beside, ns=(time_ns, time_ns))
        beside.replace(path)
    finally:
        beside.unlink(missing_ok=True)
