"""Which faces wear alike: the group of a trend, and the wider ones that stand in where it is thin."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from shop.people.models import Plant
from shop.tooling.models import Spec
from shop.watch.models import Pool

# Classes in HRC: pre-hardened plate, age-hardened, through-hardened, and what is asked for under a mirror.
HARDNESS = ((36.0, "to 36"), (46.0, "36 to 46"), (51.0, "46 to 51"))
HARDEST = "over 51"
SEVERITY = ((1.3, "mild"), (2.5, "filled"))
HARSHEST = "harsh"


@dataclass(frozen=True)
class Group:
    """What faces have in common that wear alike; what is empty is left out."""

    parameter: str
    where: str
    geometry_deg: int | None
    how_made: str
    family: str = ""
    severity: str = ""
    hardness: str = ""
    zone: str = ""

    def wider(self) -> Iterator[Group]:
        """Yield the group itself and each wider one: without the zone, the steel, the resin, the finish family."""
        told = self
        yield told
        for wider in (
            replace(self, zone=""),
            replace(self, zone="", hardness=""),
            replace(self, zone="", hardness="", severity=""),
            replace(self, zone="", hardness="", severity="", family=""),
        ):
            if wider != told:
                told = wider
                yield told


def family_of(scale: str, code: str) -> str:
    """Return the finish family of a spec: a grade's letter, else its scale."""
    if scale == Spec.Scale.GRADE:
        return code[:1].upper()
    return {Spec.Scale.VDI: "VDI", Spec.Scale.N: "N", Spec.Scale.PLAQUE: "plaque"}.get(Spec.Scale(scale), "value")


def hardness_class(hrc: Decimal | float | None) -> str:
    """Return the class of a steel's hardness; empty where it is not known."""
    if hrc is None:
        return ""
    return next((name for top, name in HARDNESS if float(hrc) <= top), HARDEST)


def severity_class(severity: float) -> str:
    """Return the class of a resin by what a shot of it counts."""
    return next((name for top, name in SEVERITY if severity < top), HARSHEST)


def group_of_pool(pool: Pool) -> Group:
    """Return the group that a pool was learned from."""
    return Group(
        pool.parameter,
        pool.where,
        pool.geometry_deg,
        pool.how_made,
        pool.family,
        pool.severity,
        pool.hardness,
        pool.zone,
    )


class Pools:
    """The plant's groups as they were last learned, in one query."""

    def __init__(self, plant: Plant) -> None:
        self._by_group: dict[Group, dict[str, Pool]] = {}
        self._asked: dict[Group, dict[str, Pool]] = {}
        for pool in Pool.objects.in_plant(plant):
            self._by_group.setdefault(group_of_pool(pool), {})[pool.side] = pool

    def of(self, group: Group) -> Mapping[str, Pool]:
        """Return the narrowest groups that were learned, by side of the limit."""
        if (asked := self._asked.get(group)) is not None:
            return asked
        found: dict[str, Pool] = {}
        for wide in group.wider():
            for side, pool in self._by_group.get(wide, {}).items():
                found.setdefault(side, pool)
        self._asked[group] = found
        return found
