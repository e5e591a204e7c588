"""Roughness profiles: form, Gaussian filter, parameters by edition, and whether the conditions fit the result."""

from __future__ import annotations

from shop.standards.profile.checking import MAX_POINTS, Trace, checked_heights, even_spacing
from shop.standards.profile.evaluating import (
    EDITIONS,
    ISO_4287,
    ISO_4287_SOURCE,
    ISO_21920_2,
    ISO_21920_2_SOURCE,
    ProfileParameters,
    SamplingLength,
    parameters,
    parameters_of,
)
from shop.standards.profile.filtering import (
    ENDS,
    FilteredProfile,
    as_filtered,
    filter_profile,
    gaussian_transmission,
    gaussian_weights,
)
from shop.standards.profile.fitting import ConditionsFit, conditions_fit, how_evaluated, used_conditions
from shop.standards.profile.form import FORMS, remove_form
from shop.standards.profile.thinning import Columns, thinned

__all__ = [
    "EDITIONS",
    "ENDS",
    "FORMS",
    "ISO_4287",
    "ISO_4287_SOURCE",
    "ISO_21920_2",
    "ISO_21920_2_SOURCE",
    "MAX_POINTS",
    "Columns",
    "ConditionsFit",
    "FilteredProfile",
    "ProfileParameters",
    "SamplingLength",
    "Trace",
    "as_filtered",
    "checked_heights",
    "conditions_fit",
    "even_spacing",
    "filter_profile",
    "gaussian_transmission",
    "gaussian_weights",
    "how_evaluated",
    "parameters",
    "parameters_of",
    "remove_form",
    "thinned",
    "used_conditions",
]
