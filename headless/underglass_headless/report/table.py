"""Tables for spreadsheets and scripts: the plan, frame by frame, and everything that was measured, as CSV.

UTF-8, comma separated, lines end with a line feed. Numbers have all the digits they need to be read back as they were.

A spreadsheet takes a cell that begins with = + - or @ for a formula. A name or remark like that is therefore written
with an apostrophe before it; so that the way back is always clear, one that begins with apostrophes and then such a
sign gets one more. `text_from_cell` takes it off again. Numbers are never touched.
"""

import re

import numpy as np

from underglass.plan.model import Plan
from underglass.proof.facts import Look, Measurement, Proof

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

# Wide forms too: spreadsheets set to Japanese or Chinese read them as formulas.
_FORMULA_SIGNS = r"=+\-@\t\r\n＝＋－＠"
_IS_RISKY = re.compile(f"'*[{_FORMULA_SIGNS}]")
_WAS_RISKY = re.compile(f"'+[{_FORMULA_SIGNS}]")
_NEEDS_QUOTES = re.compile('[",\r\n]')


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


def cell_from_text(text: str) -> str:
    """Return ``text`` as a CSV cell: harmless to a spreadsheet, and quoted where the rules of CSV ask for it."""
    if _IS_RISKY.match(text):
        text = f"'{text}"
    if _NEEDS_QUOTES.search(text):
        doubled = text.replace('"', '""')
        return f'"{doubled}"'
    return text


def text_from_cell(cell: str) -> str:
    """Return the text that `cell_from_text` made ``cell`` of, once a CSV reader has taken the quotes off."""
    return cell[1:] if _WAS_RISKY.match(cell) else cell


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
