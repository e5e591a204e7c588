"""The models of the tooling room, by subject."""

from shop.tooling.models.face import Face, FinishLife, HowMade, Spot, SteelEntry
from shop.tooling.models.spec import Concession, Limit, Parameter, Plaque, PlaqueCheck, Spec, WhereMeasured
from shop.tooling.models.tool import Acceptance, Customer, Fitting, Insert, Position, Resin, Tool

__all__ = [
    "Acceptance",
    "Concession",
    "Customer",
    "Face",
    "FinishLife",
    "Fitting",
    "HowMade",
    "Insert",
    "Limit",
    "Parameter",
    "Plaque",
    "PlaqueCheck",
    "Position",
    "Resin",
    "Spec",
    "Spot",
    "SteelEntry",
    "Tool",
    "WhereMeasured",
]
