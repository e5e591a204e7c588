"""The models of the watch room, by subject."""

from shop.watch.models.calls import Call, Evidence, Policy, RefinishInterval
from shop.watch.models.questions import CommonStep, Question
from shop.watch.models.trends import LearnedSeverity, LevelOffset, Pool, Standing, Trend

__all__ = [
    "Call",
    "CommonStep",
    "Evidence",
    "LearnedSeverity",
    "LevelOffset",
    "Policy",
    "Pool",
    "Question",
    "RefinishInterval",
    "Standing",
    "Trend",
]
