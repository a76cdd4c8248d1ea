# SPDX-License-Identifier: GPL-3.0-or-later
"""The stand drawn to scale from its south side: bed, levels, lens, and the field it takes in.

East is right and the lens is on top. Beside the drawing stands a row for every level, joined to it by a thin line.
"""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from underglass.plan.plan_arrays import Plan
from underglass.proof.wording import length, shortened

from . import drawing_style, elevation_strokes
from .elevation_strokes import Place, Row
from .palette import MUTED, TEXT, level_colour, level_mark

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

NAME_COLUMNS = 20
# Height of the drawing in points, between the room below it (bed, scale bar) and above it (title, camera).
_LEAST, _MOST = 300.0, 520.0
_BELOW, _ABOVE = 62.0, 66.0
# What moves less than this has no ghost: it would only smear the line.
_STIRS = 1.5


def elevation(plan: Plan, *, frame: int) -> str:
    """Return, as SVG, the stand on ``frame``, with pale ghosts of where things are on the first and the last frame."""
    return drawing_style.svg_from_figure(draw_elevation(plan, frame=frame), name="elevation")


def draw_elevation(plan: Plan, *, frame: int) -> "Figure":
    """Return the figure of `elevation`; ``frame`` is a frame number of the shot."""
    at = frame - int(plan.frames[0])
    units = plan.shot.units
    place, low, high, tall = _layout(plan, at)
    with drawing_style.style():
        figure = drawing_style.new_figure(height=tall + _BELOW + _ABOVE)
        axes = drawing_style.sheet(figure)
        lens_x, lens_y = _lens_point(plan, at, place)
        left, right = _field_edges(plan, at, place, low)
        elevation_strokes.field(axes, left, right, top=lens_y, bottom=place.y(low))
        elevation_strokes.post(axes, place, low, high, units=units)
        elevation_strokes.bed(axes, place.y(0.0))
        if np.isfinite(plan.focus_distance[at]):
            elevation_strokes.focal_plane(axes, place.y(plan.tracks.camera["height"][at] - plan.focus_distance[at]))
        for ghost in (0, len(plan.frames) - 1):
            _ghosts(axes, plan, at, ghost, place=place, left=left)
        for column, level in enumerate(plan.shot.levels):
            x, y = _level_point(plan, at, column, place)
            elevation_strokes.glass(axes, x, y, level.art_width * place.scale, level_colour(column))
        elevation_strokes.lens(axes, lens_x, lens_y)
        elevation_strokes.table(axes, _rows(plan, at, place), low=_BELOW, high=_BELOW + tall + 16.0, units=units)
        elevation_strokes.scale_bar(axes, place, y=18.0, units=units)
        axes.text(4.0, tall + _BELOW + _ABOVE - 14.0, f"The stand on frame {frame}, seen from the south, to scale")
    return figure


def _layout(plan: Plan, at: int) -> tuple[Place, float, float, float]:
    """Return where the stand lies on the sheet, its lowest and highest point (m), and the drawing's height (points)."""
    low, high, west, east = _extent(plan, at)
    room = max(_LEAST, drawing_style.LINE * (len(plan.names) + 3))
    wide = elevation_strokes.RIGHT - elevation_strokes.LEFT
    scale = min(wide / (east - west), max(room, _MOST) / (high - low))
    tall = max(room, scale * (high - low))
    x = (elevation_strokes.LEFT + elevation_strokes.RIGHT) / 2 - scale * (west + east) / 2
    y = _BELOW + (tall - scale * (high - low)) / 2 - scale * low
    return Place(scale, x, y), low, high, tall


def _extent(plan: Plan, at: int) -> tuple[float, float, float, float]:
    """Return what has to be on the drawing, in metres: lowest, highest, west and east."""
    frames = sorted({at, 0, len(plan.frames) - 1})
    half = np.array([level.art_width for level in plan.shot.levels]) / 2
    tracks, camera = plan.tracks.levels, plan.tracks.camera
    low = min(0.0, float(tracks["height"][frames].min(initial=0.0)))
    high = max(float(camera["height"][frames].max()), low + 1e-3)
    axis, field = camera["east"][at], _field_width(plan, at, camera["height"][at] - low) / 2
    west = min((tracks["east"][frames] - half).min(initial=np.inf), camera["east"][frames].min(), axis - field)
    east = max((tracks["east"][frames] + half).max(initial=-np.inf), camera["east"][frames].max(), axis + field)
    return low, high, float(west), float(east)


def _field_width(plan: Plan, at: int, distance: float) -> float:
    """Return the width of the field ``distance`` m from the lens, m; through a lens it grows with the distance."""
    field = plan.shot.camera.frame_px[0] / plan.scale[at, 0]
    return float(field * distance / plan.distance[at, 0] if np.isfinite(plan.image_distance[at]) else field)


def _field_edges(plan: Plan, at: int, place: Place, low: float) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return x of the field's west and east edge, each at the lens and at the ``low`` end of the drawing."""
    east, height = plan.tracks.camera["east"][at], plan.tracks.camera["height"][at]
    halves = [_field_width(plan, at, distance) / 2 for distance in (0.0, height - low)]
    west_x, east_x = ([place.x(east + side * half) for half in halves] for side in (-1.0, 1.0))
    return (west_x[0], west_x[1]), (east_x[0], east_x[1])


def _lens_point(plan: Plan, at: int, place: Place) -> tuple[float, float]:
    return place.x(plan.tracks.camera["east"][at]), place.y(plan.tracks.camera["height"][at])


def _level_point(plan: Plan, at: int, column: int, place: Place) -> tuple[float, float]:
    tracks = plan.tracks.levels
    return place.x(tracks["east"][at, column]), place.y(tracks["height"][at, column])


def _ghosts(axes: "Axes", plan: Plan, at: int, ghost: int, *, place: Place, left: tuple[float, float]) -> None:
    """Draw what stands elsewhere on the frame in row ``ghost`` than in row ``at``; ``left`` is the field's edge."""
    here, there = _lens_point(plan, at, place), _lens_point(plan, ghost, place)
    if np.hypot(there[0] - here[0], there[1] - here[1]) > _STIRS:
        # Words that cross a line are hard to read: the frame is named outside the field.
        edge = float(np.interp(there[1], [place.y(0.0), here[1]], [left[1], left[0]]))
        beside = min(there[0] - elevation_strokes.LENS_HALF, edge) - 6.0
        elevation_strokes.lens(axes, *there, ghost=f"frame {plan.frames[ghost]}", beside=beside)
    for column, level in enumerate(plan.shot.levels):
        here, there = _level_point(plan, at, column, place), _level_point(plan, ghost, column, place)
        if np.hypot(there[0] - here[0], there[1] - here[1]) > _STIRS:
            elevation_strokes.glass(axes, *there, level.art_width * place.scale, level_colour(column), ghost=True)


def _rows(plan: Plan, at: int, place: Place) -> list[Row]:
    """Return the rows of the table, from the top: the lens, the levels, and the plane in focus where there is one."""
    units, lens_height = plan.shot.units, plan.tracks.camera["height"][at]
    x, y = _lens_point(plan, at, place)
    rows = [
        Row(x + elevation_strokes.LENS_HALF, y, _lens_words(plan, at), (length(lens_height, units), "", ""), TEXT.light)
    ]

    def add(x: float, distance: float, name: str, colour: str, mark: str = "") -> None:
        lengths = lens_height - distance, distance, _field_width(plan, at, distance)
        cells = (length(lengths[0], units), length(lengths[1], units), length(lengths[2], units))
        rows.append(Row(x, place.y(lengths[0]), name, cells, colour, mark))

    for column, level in enumerate(plan.shot.levels):
        centre, _ = _level_point(plan, at, column, place)
        name = shortened(level.name, columns=NAME_COLUMNS)
        end, distance = centre + level.art_width / 2 * place.scale, float(plan.distance[at, column])
        add(end, distance, name, level_colour(column), level_mark(column))
    if np.isfinite(plan.focus_distance[at]):
        add(elevation_strokes.RIGHT, float(plan.focus_distance[at]), "in focus", MUTED.light)
    return sorted(rows, key=lambda row: row.y)


def _lens_words(plan: Plan, at: int) -> str:
    camera = plan.shot.camera
    if not np.isfinite(plan.image_distance[at]):
        return "lens, rays in parallel"
    stop = f", f/{camera.f_stop:g}" if camera.f_stop else ""
    focused = "" if np.isfinite(plan.focus_distance[at]) else ", at infinity"
    return f"lens {plan.tracks.camera['focal'][at] * 1000:.4g} mm{stop}{focused}"
