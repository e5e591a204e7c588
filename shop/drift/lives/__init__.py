"""How long finishes last: lives that have ended, lives that still run, and lives that ended between two looks."""

from shop.drift.lives.comparing import LogRank, RatioOfLives, log_rank, ratio_of_lives
from shop.drift.lives.given import Lives, lives, lives_between
from shop.drift.lives.survival import KaplanMeier, kaplan_meier
from shop.drift.lives.turnbull import Turnbull, turnbull
from shop.drift.lives.weibull import Interval, Weibull, weibull, weibull_interval

__all__ = [
    "Interval",
    "KaplanMeier",
    "Lives",
    "LogRank",
    "RatioOfLives",
    "Turnbull",
    "Weibull",
    "kaplan_meier",
    "lives",
    "lives_between",
    "log_rank",
    "ratio_of_lives",
    "turnbull",
    "weibull",
    "weibull_interval",
]
