"""Who may do what: one table."""

from __future__ import annotations

from enum import StrEnum

from shop.people.models import Person, Role


class Ability(StrEnum):
    READ = "read"
    LOG_SHOTS = "log shots"
    REPORT_DAMAGE = "report damage"
    MOVE_TOOL = "move tool"
    MEASURE = "measure"
    JUDGE_RELEASE = "judge release"
    PLAN_BENCH = "plan bench"
    BENCH_WORK = "bench work"
    RELEASE = "release"
    SPECIFY = "specify"
    GRANT_CONCESSION = "grant concession"
    KEEP_GAUGES = "keep gauges"
    SET_PLANT = "set plant"


_A = Ability
ABILITIES_OF: dict[Role, frozenset[Ability]] = {
    Role.OWNER: frozenset(Ability),
    Role.LEAD: frozenset(
        {
            _A.READ, _A.MOVE_TOOL, _A.REPORT_DAMAGE, _A.PLAN_BENCH, _A.BENCH_WORK, _A.RELEASE, _A.JUDGE_RELEASE,
            _A.LOG_SHOTS, _A.SPECIFY, _A.GRANT_CONCESSION,
        }
    ),
    Role.POLISHER: frozenset({_A.READ, _A.BENCH_WORK, _A.REPORT_DAMAGE}),
    Role.PRESS: frozenset({_A.READ, _A.LOG_SHOTS, _A.REPORT_DAMAGE, _A.MOVE_TOOL}),
    Role.QUALITY: frozenset(
        {
            _A.READ, _A.MEASURE, _A.JUDGE_RELEASE, _A.RELEASE, _A.REPORT_DAMAGE, _A.KEEP_GAUGES, _A.GRANT_CONCESSION,
        }
    ),
    Role.ENGINEER: frozenset({_A.READ, _A.SPECIFY, _A.GRANT_CONCESSION}),
    Role.VIEWER: frozenset({_A.READ}),
}
ABILITIES: dict[Ability, frozenset[Role]] = {
    ability: frozenset(role for role in Role if ability in ABILITIES_OF[role]) for ability in Ability
}


def may(person: Person, ability: Ability) -> bool:
    """Return whether this person's role lets them do it."""
    return person.role in ABILITIES[ability]
