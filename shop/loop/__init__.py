"""The whole job on one page: what happens when there is news.

A shot or a reading comes in, its trend is brought up to date, the watch looks at the face and calls, the bench
proposes work; the work is done, the steel passes, the parts pass, the tool is released, and a new finish life runs.
Each function takes one piece of news through the rooms in order and returns what its door shows.
"""

from __future__ import annotations

from shop.loop.bench import (
    bought_off,
    came_back,
    ended,
    handed_over,
    line_added,
    line_dropped,
    parts_failed,
    parts_passed,
    released,
    resumed,
    started,
    steel_failed,
    steel_passed,
    work_set,
)
from shop.loop.pieces import Swept
from shop.loop.planning import planned_run_cancelled, question_answered, run_planned
from shop.loop.press import damage_called, shots_corrected, shots_logged, shots_voided
from shop.loop.quality import reading_corrected, reading_taken, unfit_decided
from shop.loop.rounds import brought_up_to_date, swept
from shop.loop.tooling import (
    concession_granted,
    concession_withdrawn,
    insert_moved,
    insert_taken_out,
    interval_planned,
    spec_revised,
)

__all__ = [
    "Swept",
    "bought_off",
    "brought_up_to_date",
    "came_back",
    "concession_granted",
    "concession_withdrawn",
    "damage_called",
    "ended",
    "handed_over",
    "insert_moved",
    "insert_taken_out",
    "interval_planned",
    "line_added",
    "line_dropped",
    "parts_failed",
    "parts_passed",
    "planned_run_cancelled",
    "question_answered",
    "reading_corrected",
    "reading_taken",
    "released",
    "resumed",
    "run_planned",
    "shots_corrected",
    "shots_logged",
    "shots_voided",
    "spec_revised",
    "started",
    "steel_failed",
    "steel_passed",
    "swept",
    "unfit_decided",
    "work_set",
]
