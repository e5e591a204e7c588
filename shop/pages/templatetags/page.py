"""Tags that every page uses: fields of a form, states with their marks, pictures."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString, mark_safe
from django.utils.text import slugify

from shop import picture
from shop.bench.states import State
from shop.pages.typed import Typed
from shop.picture import swatches
from shop.quality.models import Verdict
from shop.tooling.models import HowMade, Parameter, Spec, Tool
from shop.tooling.services.spec_checks import UNITS
from shop.units import THIN_SPACE, Quantity, convert, show
from shop.watch.models import Call, Standing

register = template.Library()

INPUTS = {
    "text": ("text", ""),
    "decimal": ("text", "decimal"),
    "integer": ("text", "numeric"),
    "moment": ("datetime-local", ""),
    "day": ("date", ""),
}
STATES: dict[str, Any] = {
    str(value): label
    for choices in (State, Standing.State, Verdict.Outcome, Tool.Place, Tool.Status, Call.Cause)
    for value, label in choices.choices
}


def _typed(context: template.Context) -> Typed:
    return context.get("typed") or Typed.blank()


@register.inclusion_tag("parts/field.html", takes_context=True)
def field(context: template.Context, name: str, label: str, kind: str = "text", **more: Any) -> dict[str, Any]:
    """Show one field with its label, what was typed and what is wrong with it.

    `kind` is text, decimal, integer, moment, day, select, words or file; `more` takes unit, help, options,
    blank, value (what it starts from), id, required, autofocus.
    """
    typed = _typed(context)
    input_type, inputmode = INPUTS.get(kind, ("text", ""))
    fault = typed.fault[name]
    html_id = more.get("id") or f"field-{slugify(name)}"
    described = " ".join(
        f"{html_id}-{what}" for what in ("help", "fault") if (fault if what == "fault" else more.get("help"))
    )
    flags = format_html_join(
        "",
        " {}",
        ((flag,) for flag in ("required", "autofocus") if more.get(flag)),
    )
    if described:
        flags += format_html(' aria-describedby="{}"', described)
    if fault:
        flags += mark_safe(' aria-invalid="true"')
    start = more.get("value", "")
    return {
        "name": name,
        "label": label,
        "kind": kind,
        "id": html_id,
        "input_type": input_type,
        "inputmode": inputmode,
        "was": typed.was[name] if name in typed.names else ("" if start is None else str(start)),
        "fault": fault,
        "flags": flags,
        "unit": more.get("unit", ""),
        "help": more.get("help", ""),
        "blank": more.get("blank", ""),
        "options": [(str(value), words) for value, words in more.get("options", ())],
    }


@register.inclusion_tag("parts/choices.html", takes_context=True)
def choices(
    context: template.Context,
    name: str,
    label: str,
    options: Iterable[tuple[Any, Any]],
    kind: str = "radio",
    value: Any = "",
    help: str = "",
) -> dict[str, Any]:
    """Show choices as large ticks: `kind` radio for one of them, checkbox for several."""
    typed = _typed(context)
    start = {str(one) for one in value} if isinstance(value, list | tuple | set) else {str(value)}
    return {
        "name": name,
        "label": label,
        "kind": kind,
        "options": [(str(one), words) for one, words in options],
        "chosen": set(typed.many(name)) if name in typed.names else start,
        "fault": typed.fault[name],
        "help": help,
    }


@register.simple_tag(takes_context=True)
def ref(context: template.Context) -> SafeString:
    """Return the hidden field by which a form sent twice enters once."""
    return format_html('<input type="hidden" name="ref" value="{}">', _typed(context).ref)


@register.simple_tag
def state(value: str, label: str = "") -> SafeString:
    """Return a state as its own mark and its word, never colour alone."""
    words = label or STATES.get(str(value), value)
    slug = slugify(str(value))
    return format_html(
        '<span class="state state-{}"><svg class="mark" aria-hidden="true"><use href="#mark-{}"/></svg>{}</span>',
        slug,
        slug,
        words,
    )


@register.simple_tag
def draw(thing: Any) -> SafeString:
    """Return the picture of a value of `shop.picture`: a finish bar, a map, a chart, a line of life, steel left."""
    return mark_safe(picture.draw(thing)) if thing is not None else mark_safe("")  # noqa: S308 - picture escapes all words


@register.simple_tag
def lay(how_made: str, grade: str = "", title: str = "") -> SafeString:
    """Return the drawn lay of a kind of finish."""
    return mark_safe(swatches.swatch(how_made, grade, title or f"{HowMade(how_made).label} {grade}".strip()))  # noqa: S308


@register.simple_tag
def swatch(spec: Spec | None) -> SafeString:
    """Return the lay of a finish, by which it is recognised."""
    if spec is None:
        return mark_safe("")
    grade = spec.code if spec.scale == Spec.Scale.GRADE else ""
    drawn = swatches.swatch(spec.how_made, grade, str(spec.get_how_made_display()))
    return mark_safe(drawn)  # noqa: S308 - picture escapes all words


@register.filter
def thousands(count: int | None) -> str:
    """Return a count under a heading that names it already, its thousands set apart."""
    return "–" if count is None else f"{count:,}".replace(",", THIN_SPACE)


@register.filter
def round_shots(count: float | None) -> int | None:
    """Return a count of shots that was reckoned, to three digits: more would say more than is known."""
    return None if count is None or count == float("inf") else int(float(f"{count:.3g}"))


@register.filter
def unit_of(parameter: str) -> str:
    """Return the unit in which the limits of a parameter stand."""
    return UNITS[Parameter(parameter)]


@register.filter
def microinch(value_um: float) -> str:
    """Return a roughness in millionths of an inch, whatever the reader's own units."""
    return show(Quantity(convert(Decimal(str(value_um)), "um", "uin"), "uin"), system="inch")


@register.filter
def lay_of(medium: str) -> str:
    """Return how a face was made by its last medium."""
    return {"stone": HowMade.STONED, "blast": HowMade.BLASTED}.get(medium, HowMade.POLISHED).value


@register.filter
def item(mapping: Any, key: Any) -> Any:
    """Return what a mapping holds for a key, or empty words."""
    try:
        return mapping[key]
    except (KeyError, IndexError):
        return ""
