# SPDX-License-Identifier: GPL-3.0-or-later
"""Writing a painting guide: the page, and a folder with the map and the templates of each level, all by rename."""

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from underglass.plan import Plan
from underglass.shot import Level, Shot

from .guide_facts import Guide
from .guide_page import Files, guide_page
from .paint_template import map_png, template_png, template_svg

PAGE = "guide.html"
TEMPLATES = "templates"
_MAP_PX = 1400
_NO_FILE_NAME = re.compile(r"[^a-z0-9]+")


def file_stem(guide: Guide) -> str:
    """Return the name of a level's files: its place in the stack, so that no two are the same, and its name."""
    return f"{guide.column + 1:02d}_{_NO_FILE_NAME.sub('_', guide.level.name.lower()).strip('_') or 'level'}"


def make_guide(plan: Plan, guides: Sequence[Guide], *, made: Path, unpainted: Sequence[str]) -> str:
    """Draw every map and template into the folder ``made`` and return the page that links to them.

    ``unpainted`` are the levels without art of their own yet.
    """
    shot = plan.shot
    files = {}
    for guide in guides:
        stem = file_stem(guide)
        name = guide.level.name
        art = None if name in unpainted else shown_art(shot, guide.level)
        look: dict[str, Any] = {"units": shot.units, "fps": shot.fps}
        (made / f"{stem}.map.png").write_bytes(map_png(guide, width_px=_MAP_PX, art=art, **look))
        (made / f"{stem}.png").write_bytes(template_png(guide, **look))
        (made / f"{stem}.svg").write_text(template_svg(guide, **look), encoding="utf-8")
        files[name] = Files(*(f"{TEMPLATES}/{stem}.{kind}" for kind in ("map.png", "png", "svg")))
    return guide_page(plan, guides, files=files, unpainted=unpainted)


def shown_art(shot: Shot, level: Level) -> Any:
    """Return the first image of a level for a map, (H, W, 4) bytes, no larger than it; None where it is no picture.

    Art is looked at here, not measured: what a viewer shows is enough.
    """
    from PIL import Image, UnidentifiedImageError

    path = shot.folder / shot.art_files(level)[0]
    try:
        with Image.open(path) as image:
            image.thumbnail((_MAP_PX, _MAP_PX))
            return np.asarray(image.convert("RGBA"))
    except (OSError, UnidentifiedImageError, ValueError, Image.DecompressionBombError):
        return None
