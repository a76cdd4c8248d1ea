# SPDX-License-Identifier: GPL-3.0-or-later
"""The sheets as one HTML page: a set for each operator, each from a new page of paper on; and the exposure sheet.

What it says comes from `make_sheets` and `exposure_sheet`, how it looks is in ``templates``.
"""

from collections.abc import Sequence
from functools import partial
from importlib import resources
from typing import Any, TypeVar

from underglass.plan import Plan
from underglass.proof.wording import plain, shortened

from .cautions import CAUTIONS, DEFERENCE
from .exposure_sheet import exposure_tables
from .film_length import gauge_of
from .sheet_drawings import arrow_symbols, place_in_frame
from .sheet_facts import film_line, time_line
from .sheet_set import LABELS, OperatorSet

# Frames that stay together on a page and are parted by a heavier line: half a foot of 35 mm, a quarter of 16 mm.
BLOCKS = {16: 8, 40: 10, 72: 8, 80: 10}
# With more columns a sheet lies on its side, and with still more its numbers are smaller.
UPRIGHT, LARGE = 2, 3
# Longer names are cut where they head a column.
NAME_COLUMNS = 24

_Item = TypeVar("_Item")


def sheets_page(plan: Plan, *, sets: Sequence[OperatorSet]) -> str:
    """Return the whole page: it needs no other file, and prints on A4 and on US Letter."""
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    templates = resources.files(__package__).joinpath("templates")
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters |= {"plain": plain, "shortened": partial(shortened, columns=NAME_COLUMNS)}
    template = environment.from_string(templates.joinpath("sheets.html.jinja").read_text(encoding="utf-8"))
    camera = plan.shot.camera
    block = BLOCKS[gauge_of(camera.gate).frames_per_foot]
    aspect = camera.frame_px[0] * camera.squeeze / camera.frame_px[1]
    return template.render(
        shot=plan.shot,
        style=Markup(templates.joinpath("sheets.css").read_text(encoding="utf-8")),
        foot=Markup(_css_text(plain(plan.shot.title))),
        symbols=Markup(arrow_symbols()),
        cautions=CAUTIONS,
        deference=DEFERENCE,
        labels=LABELS,
        sets=[_shown(one, aspect, block) for one in sets],
        tables=[(table, _blocks(table.lines, block)) for table in exposure_tables(plan, sets=sets)],
        film=f"{time_line(plan.shot)} {film_line(plan.shot)}",
        count=len(plan.names),
    )


def _shown(one: OperatorSet, aspect: float, block: int) -> dict[str, Any]:
    from markupsafe import Markup

    size = "upright" if len(one.moving) <= UPRIGHT else "wide" if len(one.moving) <= LARGE else "wide small"
    return {
        "set": one,
        "size": size,
        "place": Markup(place_in_frame(one.outline, aspect=aspect)) if one.outline else "",
        "blocks": _blocks(one.rows, block),
        "columns": 4 + one.has_drawings + 2 * len(one.moving) + max(0, len(one.passes) - 1),
    }


def _blocks(rows: Sequence[_Item], count: int) -> list[Sequence[_Item]]:
    return [rows[start : start + count] for start in range(0, len(rows), count)]


def _css_text(text: str) -> str:
    """Return ``text`` as a string of CSS in which no character can mean anything else."""
    return '"' + "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):06x}" for c in text) + '"'
