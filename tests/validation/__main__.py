"""Write REPORT.md: what the forecasts promise, against simulated plants whose truth is known.

Run as `python -m tests.validation`. It takes some minutes and says which figures miss their mark. With the name of a
section, as in `python -m tests.validation early`, only that one is measured and printed; the report stays as it is.
"""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from shop import __version__
from tests.validation.early import EVERY, LEAD_SHOTS, early
from tests.validation.forecasts import honest, sharp
from tests.validation.plants import CONDITIONS

REPORT = Path(__file__).with_name("REPORT.md")
SEED = 20261125
OVERALL, EACH, BIN_POINTS, BIN_CASES = (0.77, 0.83), (0.72, 0.88), 0.05, 2000
TO_ORACLE, TO_OWN_AT_3 = 1.1, 0.75
MORE_SHOTS = 0.2


def main() -> None:
    """Measure, and write the report beside this file; of sections that are named, only print."""
    if len(sys.argv) > 1:
        for name in sys.argv[1:]:
            sys.stdout.write("\n".join(SECTIONS[name]()) + "\n")
        return
    lines = [
        "# Forecasts against simulated plants",
        "",
        f"Facewright {__version__}, {datetime.now(UTC):%d %b %Y}, `python -m tests.validation`, seed {SEED}.",
        "Every face's true wear is known, so a forecast can be held against it. Conditions are in `plants.py`.",
        "Gauges and resins are not told apart before a forecast is made here: their rows show what that costs.",
        "What an inspection shares is split off by `shop.drift.steps`, in every condition, before the forecast.",
        "",
        *_honest(),
        *_sharp(),
        "",
        *_early(),
    ]
    REPORT.write_text("\n".join(lines) + "\n", encoding="utf-8")
    sys.stdout.write(REPORT.read_text(encoding="utf-8"))


def _honest() -> list[str]:
    found = honest(SEED)
    every = np.concatenate([np.array(one) for one in found.inside.values()])
    lines = [
        "## Honest",
        "",
        "Of the 80 % intervals of the crossing, so many hold the truth.",
        "",
        "| condition | what it is | faces | hold | mark | met |",
        "|---|---|---|---|---|---|",
        _row("all", "", every, OVERALL),
    ]
    said = {condition.name: condition.said for condition in CONDITIONS}
    lines += [_row(name, said[name], np.array(inside), EACH) for name, inside in found.inside.items()]
    lines += ["", "Chances by a given shot count, in ten bins.", "", "| said | came | cases | within 5 points |"]
    lines += ["|---|---|---|---|"]
    for said_mean, came, cases in found.bins():
        met = _met(abs(said_mean - came) <= BIN_POINTS and cases >= BIN_CASES)
        lines.append(f"| {said_mean:.3f} | {came:.3f} | {cases} | {met} |")
    return [*lines, ""]


def _row(name: str, said: str, inside: np.ndarray, mark: tuple[float, float]) -> str:
    share = float(inside.mean())
    met = _met(mark[0] <= share <= mark[1])
    marks = f"{100 * mark[0]:.0f} to {100 * mark[1]:.0f} %"
    return f"| {name} | {said} | {len(inside)} | {100 * share:.1f} % | {marks} | {met} |"


def _sharp() -> list[str]:
    lines = [
        "## Sharp",
        "",
        "Median error of the crossing, as a share of the true one: pooled, by the face's own least squares line, and",
        "by an oracle that knows the group's true distribution. Straight wear, groups of 30.",
        "",
        "| readings | pooled | own line | oracle | pooled to oracle | pooled to own | met |",
        "|---|---|---|---|---|---|---|",
    ]
    for one in sharp(SEED):
        to_oracle, to_own = one.pooled / one.oracle, one.pooled / one.own
        met = _met(to_oracle <= TO_ORACLE and (one.readings != 3 or to_own <= TO_OWN_AT_3))
        errors = f"{one.pooled:.4f} | {one.own:.4f} | {one.oracle:.4f}"
        lines.append(f"| {one.readings} | {errors} | {to_oracle:.2f} | {to_own:.2f} | {met} |")
    return lines


def _early() -> list[str]:
    lines = [
        "## Early",
        "",
        f"Every face is measured every {EVERY:,.0f} shots and called when the chance of its limit within a lead time",
        f"of {LEAD_SHOTS:,.0f} shots passes what is set; it is pulled a lead time later. The interval beside it is the",
        "one that leaves as many shots beyond the limit, in the mean of all lives. Straight wear. Shots between",
        "refinishes are the mean of all lives, and beside it what it comes to while all faces run the same shots: slow",
        "faces have fewer lives then. The mark is held against the smaller.",
        "",
        "| chance | lives | beyond the limit a life | by interval | called, all lives | more | called, running alike "
        "| more | met |",
        "|---|---|---|---|---|---|---|---|---|",
    ]
    for one in early(SEED):
        met = _met(min(one.gain, one.running_gain) >= MORE_SHOTS)
        by_lives, by_running = (
            f"{shots:,.0f} | {100 * gain:.0f} %"
            for shots, gain in ((one.called, one.gain), (one.running, one.running_gain))
        )
        figures = f"{one.exposure:,.0f} | {one.interval:,.0f} | {by_lives} | {by_running}"
        lines.append(f"| {100 * one.chance:.0f} % | {one.lives} | {figures} | {met} |")
    return lines


def _met(held: bool) -> str:
    return "yes" if held else "**no**"


SECTIONS = {"honest": _honest, "sharp": _sharp, "early": _early}

if __name__ == "__main__":
    main()
