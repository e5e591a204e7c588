"""Which Ra bands stood beside a grade when its spec was saved."""

from __future__ import annotations

from django.utils.translation import gettext

from shop.tooling.models import Spec


def beside(spec: Spec | None) -> str:
    """Return the bands that stood beside the grade of a spec, in words; empty beside another scale."""
    if spec is None or spec.scale != Spec.Scale.GRADE or not spec.grade_ra_table:
        return ""
    return gettext("Ra bands: %(bands)s") % {"bands": gettext(spec.grade_ra_table)}
