# SPDX-License-Identifier: GPL-3.0-or-later
"""The page of a proof: one HTML file with its plots inside; only the rendered frames are files beside it.

What it says is put together here, how it looks is in ``templates``.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, partial
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

import numpy as np

from underglass.proof.expected_of_picture import expectations, expectations_line
from underglass.proof.proof_facts import BLOCK, FAIL, PASS, Fault, Measurement, Proof, Samples
from underglass.proof.proof_json import scene_errors
from underglass.proof.proof_summary import by_level, judged, measured_words, verdict_words, worst_line, worst_told
from underglass.proof.wording import counted, give_or_take, growth, listed, number, plain, px, shortened, span

from .drawing_style import load_plots
from .palette import LEVEL_INKS, css_variables, follow_page
from .proof_plots import place_plot, size_plot
from .residual_plot import residual_plot
from .stand_elevation import elevation

if TYPE_CHECKING:
    from jinja2 import Template

# More would make a page that no browser likes to open; the worst are kept, and the files hold them all.
MOST_ROWS = 600
MOST_PICTURES = 48
# A table longer than this is folded away.
LONG_TABLE = 16
# Longer names are cut in tables; the whole name shows under the pointer.
NAME_COLUMNS = 60
# "far hills, sky and 3 more" under a frame.
_MOST_NAMED = 2


@dataclass(frozen=True)
class _Picture:
    """One frame of the contact strip; ``size`` is its width and height for the eye, with pixels made square."""

    frame: int
    link: str
    alt: str
    off: str
    why: str


@dataclass(frozen=True)
class _LevelRow:
    """One row of the table of levels, as text."""

    name: str
    ink: int
    growth: str
    measured_growth: str
    pixels: str
    scene: str
    missing: str
    holds: bool
    told: bool


def proof_page(proof: Proof) -> str:
    """Return the whole page as HTML; pictures are linked relative to the folder that it is written to."""
    from markupsafe import Markup

    template, style = _template()
    return template.render(
        proof=proof,
        shot=proof.plan.shot,
        passes=proof.verdict == PASS,
        style=Markup(style),
        inks={scheme: Markup(css_variables(dark=scheme == "dark")) for scheme in ("light", "dark")},
        ink_count=len(LEVEL_INKS),
        drawings={name: Markup(follow_page(svg)) for name, svg in _drawings(proof).items()},
        **_facts(proof),
    )


def load_page() -> None:
    """Load what draws and the template, so that both are there when a page is wanted."""
    load_plots()
    _template()


@cache
def _template() -> "tuple[Template, str]":
    """Return the template of the page, and its style sheet."""
    from jinja2 import Environment, StrictUndefined

    templates = resources.files(__package__).joinpath("templates")
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters |= {"number": number, "px": px, "plain": plain, "span": span, "give_or_take": give_or_take}
    environment.filters["shortened"] = partial(shortened, columns=NAME_COLUMNS)
    template = environment.from_string(templates.joinpath("proof.html.jinja").read_text(encoding="utf-8"))
    return template, templates.joinpath("proof.css").read_text(encoding="utf-8")


def _lies(samples: Samples | None) -> str:
    """Return where the samples lie in their pixels, as a sentence; empty where no datum told."""
    if samples is None or not samples.datum_frames:
        return ""
    return (
        f"On {counted(samples.datum_frames, 'frame')} the datum told where each sample lies in the frame. It is no more"
        f" than {px(samples.farthest_px)} from its pixel’s centre. The whole frame is shifted by {px(samples.shift_px)}"
        f" at most, and its scale is right to {max(samples.scale_off, 1e-9):.1g}."
    )


def _facts(proof: Proof) -> dict[str, Any]:
    """Return what the page says beside the proof itself."""
    words = verdict_words(proof)
    pictures = _pictures(proof)
    rows = _rows(proof.measurements)
    return {
        "verdict": words[0].upper() + words[1:],
        "worst": worst_line(proof),
        "expected": expectations(proof),
        "expected_line": expectations_line(proof),
        "faults": sorted(proof.faults, key=lambda fault: fault.severity != BLOCK),
        "wrong": any(fault.severity == BLOCK for fault in proof.faults),
        "amount": _amount,
        "source": proof.source,
        "lies": _lies(proof.samples),
        "extent": [
            counted(len(proof.plan.names), "level"),
            *([] if proof.source else [f"{counted(len(proof.checked_frames), 'frame')} checked in the scene"]),
            measured_words(proof),
            f"{proof.tolerance_px:g} px allowed",
        ],
        "pictures": pictures,
        "more_pictures": len(proof.pictures) - len(pictures),
        "aspect": f"{proof.plan.shot.camera.frame_px[0] * proof.plan.shot.camera.squeeze:g} / "
        f"{proof.plan.shot.camera.frame_px[1]}",
        "levels": [
            _level_row(proof, column, mine, scene)
            for column, (mine, scene) in enumerate(zip(by_level(proof).values(), scene_errors(proof), strict=True))
        ],
        "rows": rows,
        "more_rows": len(proof.measurements) - len(rows),
        "turns": any(round(abs(m.planned.turn), 4) or (m.measured and round(abs(m.measured.turn), 4)) for m in rows),
        "long": len(rows) > LONG_TABLE,
        "first_frame": int(proof.plan.frames[0]),
        "last_frame": int(proof.plan.frames[-1]),
    }


def _drawings(proof: Proof) -> dict[str, str]:
    return {
        "size": size_plot(proof),
        "place": place_plot(proof),
        "residual": residual_plot(proof),
        "elevation": elevation(proof.plan, frame=int(proof.plan.frames[0])),
    }


def _amount(fault: Fault) -> str:
    """Return how much a fault is out, with its unit; nothing where a number says nothing."""
    if not np.isfinite(fault.amount):
        return ""
    shown = number(fault.amount, 3)
    unit = plain(fault.unit)
    # Units that are counted come in the plural.
    if shown == "1.000" and unit.endswith("s"):
        unit = unit[:-1]
    return f"{shown.rstrip('0').rstrip('.')} {unit}".strip()


def _pictures(proof: Proof) -> list[_Picture]:
    """Return the contact strip, thinned out evenly where there are very many frames."""
    frames = sorted(proof.pictures)
    if len(frames) > MOST_PICTURES:
        frames = [frames[index] for index in np.linspace(0, len(frames) - 1, MOST_PICTURES).astype(int)]
    return [_picture(proof, frame, proof.pictures[frame]) for frame in frames]


def _picture(proof: Proof, frame: int, path: Path) -> _Picture:
    failed = [m for m in proof.measurements if m.frame == frame and m.verdict == FAIL]
    names = listed([shortened(m.level, columns=24) for m in failed], most=_MOST_NAMED)
    state = f"off or missing: {names}" if failed else "every level as planned"
    alt = f"Frame {frame} of {plain(proof.plan.shot.title)} as rendered; {state}"
    link = quote(path.as_posix(), errors="surrogateescape")
    return _Picture(frame, link, alt, names, plain(proof.picture_reasons.get(frame, "")))


def _level_row(proof: Proof, column: int, mine: Sequence[Measurement], scene: dict[str, Any]) -> _LevelRow:
    name = proof.plan.names[column]
    seen = [m for m in mine if m.measured is not None]
    worst = worst_told(mine, tolerance=proof.tolerance_px)
    shown = "not seen" if worst is None else give_or_take(*judged(worst))
    missing = scene["missing_frames"]
    return _LevelRow(
        told=bool(mine) or proof.source is None,
        name=name,
        ink=column % len(LEVEL_INKS),
        growth=_between(seen, "planned"),
        measured_growth=_between(seen, "measured"),
        pixels=shown,
        scene=px(scene["worst_px"]),
        missing=f"missing on {counted(missing, 'frame')}" if missing else "",
        holds=all(m.verdict == PASS for m in mine)
        and not missing
        and (scene["worst_px"] or 0.0) <= proof.tolerance_px
        and not any(fault.severity == BLOCK and fault.subject == name for fault in proof.faults),
    )


def _between(seen: Sequence[Measurement], side: str) -> str:
    """Return the growth of a level between the first and the last frame that it was measured on."""
    if len(seen) < 2:
        return "–"
    first, last = (getattr(m, side).size_px for m in (seen[0], seen[-1]))
    return growth(first, last)


def _rows(measurements: Sequence[Measurement]) -> list[Measurement]:
    """Return the measurements to be listed: all, or the worst where there are very many, in the order they came."""
    if len(measurements) <= MOST_ROWS:
        return list(measurements)

    def gravity(index: int) -> tuple[bool, float]:
        m = measurements[index]
        return m.verdict == FAIL, float("inf") if m.error_px is None and m.verdict == FAIL else m.error_px or 0.0

    kept = sorted(range(len(measurements)), key=gravity, reverse=True)[:MOST_ROWS]
    return [measurements[index] for index in sorted(kept)]
