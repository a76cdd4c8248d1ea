# SPDX-License-Identifier: GPL-3.0-or-later
"""Stand-ins: pictures to shoot in place of art that is not painted yet. Each says of itself that it is one."""

from io import BytesIO
from pathlib import Path

from ...report.palette import PAPER
from .guide_facts import Guide
from .paint_template import template_png

# What a stand-in carries among its texts, so that a later plan may replace it, and never a painting.
STAND_IN = ("Comment", "Underglass: stand-in for art that is not painted yet")


def stand_in_png(guide: Guide, *, units: str, fps: float, opaque: bool) -> bytes:
    """Return a picture to shoot in place of art that is not painted yet, of the art's own pixels; it says so."""
    from PIL import Image, PngImagePlugin

    level = guide.level
    png = template_png(guide, units=units, fps=fps, tint=True, width_px=level.art_px[0])
    said = PngImagePlugin.PngInfo()
    said.add_text(*STAND_IN)
    buffer = BytesIO()
    with Image.open(BytesIO(png)) as image:
        sheet = image.convert("RGBA").resize(level.art_px)
        if opaque:
            sheet = Image.alpha_composite(Image.new("RGBA", sheet.size, PAPER.light), sheet)
        sheet.save(buffer, format="PNG", pnginfo=said)
    return buffer.getvalue()


def is_stand_in(path: Path) -> bool:
    """Return whether a file is a picture that `stand_in_png` made."""
    from PIL import Image, UnidentifiedImageError

    try:
        with Image.open(path) as image:
            return getattr(image, "text", {}).get(STAND_IN[0]) == STAND_IN[1]
    except (OSError, UnidentifiedImageError, ValueError, Image.DecompressionBombError):
        return False
