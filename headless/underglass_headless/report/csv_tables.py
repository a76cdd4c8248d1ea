# SPDX-License-Identifier: GPL-3.0-or-later
"""Tables for spreadsheets and scripts: the plan, frame by frame, and everything that was measured, as CSV.

UTF-8, comma separated, lines end with a line feed. Numbers have all the digits they need to be read back as they were.
Texts that a spreadsheet would take for formulas are kept from it (`csv_formulas`).
"""

import numpy as np

from underglass.plan.plan_arrays import Plan
from underglass.proof.proof_facts import Look, Measurement, Proof

from .csv_formulas import cell_from_text

PLAN_COLUMNS = ("frame", "level", "size_px", "x", "y", "turn")
MEASUREMENT_COLUMNS = (
    "frame",
    "level",
    *(f"{side}_{what}" for side in ("planned", "measured") for what in ("size_px", "x", "y", "turn")),
    "error_px",
    "uncertainty_px",
    "verdict",
    "seen",
    "remark",
    "pixels",
    "strange",
    "doubled",
    "missing",
)


def plan_table(plan: Plan) -> str:
    """Return the plan as CSV: frames in order, in each the levels nearest the lens first, turn in degrees.

    Turns are counter-clockwise; pixels count from the frame's centre, x right, y up.
    """
    names = [cell_from_text(name) for name in plan.names]
    columns = (plan.size_px, plan.x, plan.y, np.degrees(plan.turn))
    # Zero is added so that no "-0.0" appears.
    by_frame = zip(plan.frames.tolist(), *((column + 0.0).tolist() for column in columns), strict=True)
    rows = [
        f"{frame},{name},{size!r},{x!r},{y!r},{turn!r}\n"
        for frame, sizes, xs, ys, turns in by_frame
        for name, size, x, y, turn in zip(names, sizes, xs, ys, turns, strict=True)
    ]
    return ",".join(PLAN_COLUMNS) + "\n" + "".join(rows)


def measurement_table(proof: Proof) -> str:
    """Return every measurement of ``proof`` as CSV; what was not measured is blank, ``seen`` is yes or no."""
    rows = (",".join(_measurement_cells(measurement)) for measurement in proof.measurements)
    return "".join(f"{row}\n" for row in (",".join(MEASUREMENT_COLUMNS), *rows))


def _measurement_cells(measurement: Measurement) -> list[str]:
    return [
        str(measurement.frame),
        cell_from_text(measurement.level),
        *_look_cells(measurement.planned),
        *_look_cells(measurement.measured),
        _number(measurement.error_px),
        _number(measurement.uncertainty_px),
        measurement.verdict,
        "yes" if measurement.seen else "no",
        cell_from_text(measurement.remark),
        *(str(count) for count in (measurement.pixels, measurement.strange, measurement.doubled, measurement.missing)),
    ]


def _look_cells(look: Look | None) -> list[str]:
    return [""] * 4 if look is None else [_number(value) for value in (look.size_px, look.x, look.y, look.turn)]


def _number(value: float | None) -> str:
    return "" if value is None or not np.isfinite(value) else repr(float(value) + 0.0)
