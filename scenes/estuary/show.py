# SPDX-License-Identifier: GPL-3.0-or-later
"""Makes the pictures in `shown/` that the README files show: frame, stack, sizes, an operator's sheet, a painter's map.

Run as ``python scenes/estuary/show.py`` where Underglass is installed; about three minutes on two cores, most of them
for the frame, which is rendered with depth of field. The sheet needs Chromium, and pdftoppm of poppler-utils.
"""

import re
import subprocess
import tempfile
from io import BytesIO
from pathlib import Path

from PIL import Image

from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass_headless.desk.brief.brief_file import DEFAULT_BLEED
from underglass_headless.desk.guide.guide_facts import guides_of
from underglass_headless.desk.guide.paint_template import map_png
from underglass_headless.desk.guide.write_guide import shown_art
from underglass_headless.desk.sheets.write_sheets import PDF, write_sheets
from underglass_headless.exr.read_exr import read_picture
from underglass_headless.proving.prove_shot import Options, prove
from underglass_headless.report.proof_plots import size_plot
from underglass_headless.report.rendered_pictures import write_picture
from underglass_headless.report.stand_elevation import elevation
from underglass_headless.results import write_text

HERE = Path(__file__).resolve().parent
SHOWN = HERE / "shown"
FRAME = 24
SAMPLES = 64
# The level whose map is shown.
MAPPED, MAP_PX = "near branches", 1000
PAGE_WIDTH_PX = 1371
# The first page of the boat: after four of the camera and two levels that never move.
SHEET_PAGE, SHEET_DPI, GREYS = 7, 100, 16
# The drawings are clear where nothing is drawn; on a dark page their words could not be read.
PAPER = "#fcf9f2"


def main() -> None:
    """Print a sheet, prove the shot, render the one frame well, and write the five pictures."""
    SHOWN.mkdir(exist_ok=True)
    show_sheet()
    show_map()
    with tempfile.TemporaryDirectory() as name:
        proof = prove(HERE / "shot.toml", options=Options(pictures=False), folder=Path(name), tell=lambda *_: None)
        write_text(SHOWN / "sizes.svg", on_paper(size_plot(proof)))
        write_text(SHOWN / "stack.svg", on_paper(elevation(proof.plan, frame=proof.plan.shot.frames[0])))
        show_frame(Path(name))


def show_map() -> None:
    """Draw the map of MAPPED from the painting guide, small and in few colours."""
    plan = make_plan(read_shot(HERE / "shot.toml"))
    guide = next(one for one in guides_of(plan, bleed=DEFAULT_BLEED) if one.level.name == MAPPED)
    art = shown_art(plan.shot, guide.level)
    png = map_png(guide, units=plan.shot.units, fps=plan.shot.fps, width_px=MAP_PX, art=art)
    with Image.open(BytesIO(png)) as picture:
        picture.convert("RGB").quantize(64, dither=Image.Dither.NONE).save(SHOWN / "map.png", optimize=True)


def show_frame(folder: Path) -> None:
    """Render FRAME with depth of field and write it as a JPEG of page width."""
    options = Options(frames=(FRAME,), picture_samples=SAMPLES, depth_of_field=True)
    rendered = prove(HERE / "shot.toml", options=options, folder=folder, tell=lambda *_: None)
    png = folder / "frame.png"
    write_picture(read_picture(rendered.pictures[FRAME]), png)
    with Image.open(png) as picture:
        height = round(picture.height * PAGE_WIDTH_PX / picture.width)
        picture.convert("RGB").resize((PAGE_WIDTH_PX, height), Image.Resampling.LANCZOS).save(
            SHOWN / "frame.jpg", quality=88
        )


def show_sheet() -> None:
    """Write one page of the position sheets as a PNG in few greys."""
    with tempfile.TemporaryDirectory() as name:
        write_sheets(HERE / "shot.toml", folder=Path(name), pdf=True)
        page = ("-f", str(SHEET_PAGE), "-singlefile", "-r", str(SHEET_DPI), "-gray", "-png")
        subprocess.run(["pdftoppm", *page, PDF, "sheet"], cwd=name, check=True)
        with Image.open(Path(name) / "sheet.png") as picture:
            picture.quantize(GREYS).save(SHOWN / "sheet.png", optimize=True)


def on_paper(svg: str) -> str:
    """Return the drawing with its background filled."""
    return re.sub(r"(<svg[^>]*>)", rf'\1\n <rect width="100%" height="100%" fill="{PAPER}"/>', svg, count=1)


if __name__ == "__main__":
    main()
