"""What was measured, with what, what it means by the rule that held, and what was decided about it."""

from shop.quality.models.gauge import Calibration, CalibrationRange, Gauge, GaugeOffset, TileCheck
from shop.quality.models.inspection import Defect, Inspection, PlanItem, Reading, Verdict
from shop.quality.models.match import MatchGroup, MatchVerdict
from shop.quality.models.study import AgreementStudy, GaugeStudy
from shop.quality.models.suspect import SuspectDecision
from shop.quality.models.unfit import UnfitDecision, UnfitFinding

__all__ = [
    "AgreementStudy",
    "Calibration",
    "CalibrationRange",
    "Defect",
    "Gauge",
    "GaugeOffset",
    "GaugeStudy",
    "Inspection",
    "MatchGroup",
    "MatchVerdict",
    "PlanItem",
    "Reading",
    "SuspectDecision",
    "TileCheck",
    "UnfitDecision",
    "UnfitFinding",
    "Verdict",
]
