"""Pictures of finishes: values in, SVG out. Colours belong to the style sheet, by class."""

from __future__ import annotations

from functools import singledispatch

from shop.picture.face_map import FaceMap, face_map
from shop.picture.finish_bar import Bar, finish_bar
from shop.picture.life_line import LifeLine, life_line
from shop.picture.pairs_chart import PairsChart, pairs_chart
from shop.picture.priced_windows import PricedWindows, priced_windows
from shop.picture.profile_chart import ProfilePicture, profile_chart
from shop.picture.run_plan import RunPlan, run_plan
from shop.picture.steel_bar import SteelBar, steel_bar
from shop.picture.study_chart import AgreementMatrix, StudyChart, agreement_matrix, study_chart
from shop.picture.survival_chart import SurvivalChart, survival_chart
from shop.picture.trend_chart import TrendPicture, trend_chart


@singledispatch
def draw(thing: object) -> str:
    """Return the drawing of a value of this package as SVG text."""
    raise TypeError(f"nothing draws {type(thing).__name__}")


draw.register(Bar)(finish_bar)
draw.register(FaceMap)(face_map)
draw.register(LifeLine)(life_line)
draw.register(PairsChart)(pairs_chart)
draw.register(PricedWindows)(priced_windows)
draw.register(ProfilePicture)(profile_chart)
draw.register(RunPlan)(run_plan)
draw.register(SteelBar)(steel_bar)
draw.register(StudyChart)(study_chart)
draw.register(AgreementMatrix)(agreement_matrix)
draw.register(SurvivalChart)(survival_chart)
draw.register(TrendPicture)(trend_chart)
