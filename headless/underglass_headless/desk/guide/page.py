"""The page of a painting guide: one HTML file; maps and templates are files beside it.

What it says is put together here, how it looks is in ``templates`` here and in the report's style.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import resources

from underglass.plan import Plan
from underglass.proof.wording import counted, length, listed, number, plain
from underglass.shot import Shot
from underglass.shot.units import METRES_PER_UNIT
from underglass.shot.words import number_text

from ...report.palette import LEVEL_INKS, css_variables
from .facts import Guide

_INCH = METRES_PER_UNIT["in"]


@dataclass(frozen=True)
class Files:
    """Where a level's files lie, from the page: its map, its templates, and the map's size in pixels."""

    map: str
    png: str
    svg: str


@dataclass(frozen=True)
class _Level:
    """One level of the page, as text."""

    name: str
    ink: int
    size: str
    fields: str
    seen: str
    needed: str
    pixels: str
    painted: str
    faults: tuple[str, ...]
    coarse: str
    words: str
    files: Files


def guide_page(plan: Plan, guides: Sequence[Guide], *, files: Mapping[str, Files], unpainted: Sequence[str]) -> str:
    """Return the page as HTML; ``unpainted`` are the levels whose art is a stand-in."""
    from jinja2 import Environment, StrictUndefined
    from markupsafe import Markup

    templates = resources.files(__package__).joinpath("templates")
    style = resources.files("underglass_headless.report").joinpath("templates", "proof.css")
    environment = Environment(autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    environment.filters["plain"] = plain
    template = environment.from_string(templates.joinpath("guide.html.jinja").read_text(encoding="utf-8"))
    shot = plan.shot
    levels = [_level(guide, shot, files[guide.level.name], guide.level.name in unpainted) for guide in guides]
    return template.render(
        shot=shot,
        levels=levels,
        style=Markup(style.read_text(encoding="utf-8") + templates.joinpath("guide.css").read_text(encoding="utf-8")),
        inks={scheme: Markup(css_variables(dark=scheme == "dark")) for scheme in ("light", "dark")},
        ink_count=len(LEVEL_INKS),
        bleed=f"{length(guides[0].bleed, shot.units)} {shot.units}",
        verdict=_verdict(levels),
        fine=not any(level.faults for level in levels),
    )


def _level(guide: Guide, shot: Shot, files: Files, unpainted: bool) -> _Level:
    level = guide.level
    size = _size(level.art_width, level.art_height, shot.units)
    widths = [f"{number(outline.field / _INCH, 1)}" for outline in guide.outlines]
    painted = "not yet" if unpainted else f"{level.art_px[0]} × {level.art_px[1]} px"
    return _Level(
        name=level.name,
        ink=guide.column % len(LEVEL_INKS),
        size=size,
        fields=" → ".join(widths),
        seen=_size(guide.seen.width, guide.seen.height, shot.units),
        needed=_size(*guide.size, shot.units) if guide.margins else "free",
        pixels=f"{guide.pixels[0]} × {guide.pixels[1]}",
        painted=painted,
        faults=_faults(guide, shot),
        coarse=_coarse(guide) if not unpainted else "",
        words=_words(guide, shot),
        files=files,
    )


def _size(width: float, height: float, units: str) -> str:
    return f"{length(width, units)} × {length(height, units)} {units}"


def _faults(guide: Guide, shot: Shot) -> tuple[str, ...]:
    """Return where the art ends within the frame, in words."""
    return tuple(
        f"ends {length(short, shot.units)} {shot.units} short of the frame at its {edge}"
        for edge, short in guide.uncovered.items()
    )


def _coarse(guide: Guide) -> str:
    """Return how many pixels of art there are for one of the frame's, where there are fewer than one."""
    if guide.density >= 1:
        return ""
    return f"{number(guide.density, 2)} px of art for each px of the frame on frame {guide.nearest}"


def _words(guide: Guide, shot: Shot) -> str:
    """Return a line on what is drawn on the map."""
    level = guide.level
    # At a stand a field is named by its width, and a whole one without decimals: a 12 field.
    field = f"{number_text(round(level.art_width / _INCH, 1))} field"
    if not guide.margins:
        return f"A thing on its own glass, {field}. Its art does not have to reach any edge of the frame."
    edges = listed(list(guide.margins), most=4)
    return f"A {field}. Its art must always reach beyond the frame’s {edges}."


def verdict(plan: Plan, guides: Sequence[Guide]) -> str:
    """Return in a sentence whether the art of a shot is large and fine enough."""
    files = Files("", "", "")
    return _verdict([_level(guide, plan.shot, files, unpainted=False) for guide in guides])


def _verdict(levels: Sequence[_Level]) -> str:
    short = [level.name for level in levels if level.faults]
    coarse = [level.name for level in levels if level.coarse]
    waiting = [level.name for level in levels if level.painted == "not yet"]
    words = []
    if short:
        words.append(f"{listed(short)} {'does' if len(short) == 1 else 'do'} not cover the frame")
    else:
        words.append("all art covers what the lens sees" if not waiting else "every sheet covers what the lens sees")
    if coarse:
        words.append(f"{listed(coarse)} {'has' if len(coarse) == 1 else 'have'} fewer pixels than the frame shows")
    if waiting:
        words.append(f"{counted(len(waiting), 'level')} still to be painted")
    if not coarse and not waiting:
        words.append("each pixel of the frame has at least one pixel of art")
    text = "; ".join(words)
    return f"{text[0].upper()}{text[1:]}."
