# SPDX-License-Identifier: GPL-3.0-or-later
"""Writing a plan: the files of its shot, its art or stand-ins for it, and the painting guide, all by rename.

A painting is never replaced by a stand-in, and what lies in the brief's folder is copied, not moved.
"""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from underglass.image.art_size import read_art
from underglass.plan import make_plan
from underglass.shot import Level, Shot
from underglass.shot.files import drawings_csv, schedule_csv, shot_toml
from underglass.shot.files.read import SHOT_FILE
from underglass.shot.files.write import DRAWINGS_FILE, SCHEDULE_FILE

from ...results import publish, work_folder, write_bytes
from ..brief.brief import Brief
from ..guide.guide_facts import Guide, guides_of
from ..guide.stand_in_art import is_stand_in, stand_in_png
from ..guide.write_guide import PAGE, TEMPLATES, make_guide
from .answer import Answer


def with_art_in(brief: Brief, folder: Path) -> Brief:
    """Return the brief with the pixel sizes of art that lies only where the plan will be written: painted since."""
    levels = tuple(_with_art(brief.draft, level, folder) for level in brief.draft.levels)
    return replace(brief, draft=replace(brief.draft, levels=levels))


def _with_art(draft: Shot, level: Level, folder: Path) -> Level:
    paths = [folder / file for file in draft.art_files(level)]
    mine = [draft.folder / file for file in draft.art_files(level)]
    if all(path.is_file() for path in mine):
        return replace(level, art_px=(0, 0)) if any(map(is_stand_in, mine)) else level
    if not all(path.is_file() for path in paths) or any(map(is_stand_in, paths)):
        return level
    art = read_art(paths[0], said=draft.place(f"level.{level.name}.art"))
    return replace(level, art_px=(art.width, art.height))


def write_plan(answer: Answer, folder: Path, *, unpainted: tuple[str, ...]) -> tuple[str, ...]:
    """Write the shot of an answer, its art and its guide into ``folder``; ``unpainted`` levels get stand-ins.

    Returns the names under which what lay there and says something else is kept.
    """
    shot = replace(answer.shot, schedule_file=SCHEDULE_FILE if answer.shot.schedule else "")
    with work_folder(folder) as making:
        made = making / "guide"
        made.mkdir()
        guides = guides_of(make_plan(shot), bleed=answer.brief.paint.bleed)
        for path, data in _art(shot, guides, folder, unpainted).items():
            write_bytes(path, data)
        placed = replace(shot, folder=folder)
        page = make_guide(make_plan(placed), guides, made=made, unpainted=unpainted)
        texts = _texts(shot, folder)
        kept = _kept(texts)
        publish({folder / PAGE: page, **kept, **texts}, made=made, placed=folder / TEMPLATES, making=making)
    return tuple(path.name for path in kept)


def _kept(texts: Mapping[Path, str]) -> dict[Path, str]:
    """Return what lies where ``texts`` will be written and says something else, by the path that keeps it."""
    kept = {}
    for path, text in texts.items():
        if path.is_file() and (there := path.read_text(encoding="utf-8", errors="replace")) != text:
            kept[path.with_name(f"{path.stem}.before{path.suffix}")] = there
    return kept


def _texts(shot: Shot, folder: Path) -> dict[Path, str]:
    """Return the text of every file of the shot, shot.toml last: whoever finds it new finds the rest new too."""
    texts = {}
    if shot.schedule:
        texts[folder / SCHEDULE_FILE] = schedule_csv(shot)
    if shot.drawings.levels and not _is_same(folder, shot.folder):
        texts[folder / (shot.drawings_file or DRAWINGS_FILE)] = drawings_csv(shot)
    texts[folder / SHOT_FILE] = shot_toml(shot)
    return texts


def _art(shot: Shot, guides: list[Guide], folder: Path, unpainted: tuple[str, ...]) -> Mapping[Path, bytes]:
    """Return the art that ``folder`` lacks: copies from the brief's folder, and stand-ins where nothing is painted."""
    files: dict[Path, bytes] = {}
    for guide in guides:
        level = guide.level
        for file in shot.art_files(level):
            if level.name in unpainted:
                rearmost = level is guides[-1].level
                files[folder / file] = stand_in_png(guide, units=shot.units, fps=shot.fps, opaque=rearmost)
            elif (shot.folder / file).is_file() and not _is_same(folder, shot.folder):
                data = (shot.folder / file).read_bytes()
                if not (folder / file).is_file() or (folder / file).read_bytes() != data:
                    files[folder / file] = data
    return files


def _is_same(one: Path, other: Path) -> bool:
    return one.resolve() == other.resolve()
