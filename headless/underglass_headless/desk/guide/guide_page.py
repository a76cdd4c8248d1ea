# SPDX-License-Identifier: GPL-3.0-or-later
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
from .guide_facts import Guide
from .paint_template import is_off_map

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
    fields_too: str
    seen: str
    needed: str
    pixels: str
    painted: str
    faults: tuple[str, ...]
    coarse: str
    never_in: bool
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
        grade=_grade(levels),
    )


def _level(guide: Guide, shot: Shot, files: Files, unpainted: bool) -> _Level:
    level = guide.level
    size = _size(level.art_width, level.art_height, shot.units)
    fields, fields_too = _fields(guide, shot)
    painted = "not yet" if unpainted else f"{level.art_px[0]} × {level.art_px[1]} px"
    return _Level(
        name=level.name,
        ink=guide.column % len(LEVEL_INKS),
        size=size,
        fields=fields,
        fields_too=fields_too,
        seen=_size(guide.seen.width, guide.seen.height, shot.units),
        needed=_size(*guide.size, shot.units) if guide.margins else "free",
        pixels=f"{guide.pixels[0]} × {guide.pixels[1]}",
        painted=painted,
        faults=_faults(guide, shot),
        coarse=_coarse(guide) if not unpainted else "",
        never_in=guide.never_in,
        words=_words(guide, shot),
        files=files,
    )


def _fields(guide: Guide, shot: Shot) -> tuple[str, str]:
    """Return the widths of the field in inches, the unit of the trade, and in the shot's unit where that is another.

    Of the first frame and the last, and between them of the nearest.
    """
    picked = [one for one in guide.outlines[1:-1] if "nearest" in one.what]
    ends = [guide.outlines[0], *picked, guide.outlines[-1]] if len(guide.outlines) > 1 else [guide.outlines[0]]
    inches = list(dict.fromkeys(number(one.field / _INCH, 1) for one in ends))
    own = list(dict.fromkeys(length(one.field, shot.units) for one in ends))
    said = f"{' → '.join(inches)} in"
    return said, "" if shot.units == "in" else f"{' → '.join(own)} {shot.units}"


def _size(width: float, height: float, units: str) -> str:
    return f"{length(width, units)} × {length(height, units)} {units}"


def _faults(guide: Guide, shot: Shot) -> tuple[str, ...]:
    """Return where the art ends within the frame, in words: edges by which it is as short are told together."""
    if guide.never_in:
        return (_never_in(guide, shot),)
    edges: dict[str, list[str]] = {}
    for edge, short in guide.uncovered.items():
        edges.setdefault(length(short, shot.units), []).append(edge)
    told = [f"{listed(names, most=4)} by {by} {shot.units}" for by, names in edges.items()]
    return (f"short of the frame: {', '.join(told)}",) if told else ()


def _never_in(guide: Guide, shot: Shot) -> str:
    """Return in words where the art of a level lies that is never in the frame."""
    where = [f"{length(gap, shot.units)} {shot.units} {side} it" for side, gap in guide.apart.items()]
    return f"never in the frame: the art lies {' and '.join(where) or 'past its corner'}"


def _coarse(guide: Guide) -> str:
    """Return how many pixels of art there are for one of the frame's, where there are fewer than one."""
    if guide.density >= 1 or guide.never_in:
        return ""
    return f"too few pixels: {number(guide.density, 2)} px of art for each px of the frame on frame {guide.nearest}"


def _words(guide: Guide, shot: Shot) -> str:
    """Return a line on what is drawn on the map."""
    level = guide.level
    # At a stand a field is named by its width, and a whole one without decimals: a 12 field.
    field = f"{number_text(round(level.art_width / _INCH, 1))} field"
    if shot.units != "in":
        field += f" ({length(level.art_width, shot.units)} {shot.units})"
    off = " The art is off this map, which shows what the lens sees." if is_off_map(guide) else ""
    if not guide.margins:
        return f"A thing on its own glass, {field}. Its art does not have to reach any edge of the frame.{off}"
    edges = listed(list(guide.margins), most=4)
    return f"A {field}. Its art must always reach beyond the frame’s {edges}.{off}"


def _grade(levels: Sequence[_Level]) -> str:
    """Return the colour of the verdict: art that is too small or too coarse is never told beside a green bar."""
    if any(level.faults for level in levels):
        return "fails"
    return "warns" if any(level.coarse for level in levels) else "holds"


def verdict(plan: Plan, guides: Sequence[Guide]) -> str:
    """Return in a sentence whether the art of a shot is large and fine enough."""
    files = Files("", "", "")
    return _verdict([_level(guide, plan.shot, files, unpainted=False) for guide in guides])


def _verdict(levels: Sequence[_Level]) -> str:
    never = [level.name for level in levels if level.never_in]
    short = [level.name for level in levels if level.faults and not level.never_in]
    coarse = [level.name for level in levels if level.coarse]
    waiting = [level.name for level in levels if level.painted == "not yet"]
    words = []
    if never:
        words.append(f"{listed(never)} {'is' if len(never) == 1 else 'are'} never in the frame")
    if short:
        words.append(f"{listed(short)} {'does' if len(short) == 1 else 'do'} not cover the frame")
    elif not never:
        words.append("all art covers what the lens sees" if not waiting else "every sheet covers what the lens sees")
    if coarse:
        words.append(f"{listed(coarse)} {'has' if len(coarse) == 1 else 'have'} fewer pixels than the frame shows")
    if waiting:
        words.append(f"{counted(len(waiting), 'level')} still to be painted")
    if not coarse and not waiting and not never:
        words.append("each pixel of the frame has at least one pixel of art")
    text = "; ".join(words)
    return f"{text[0].upper()}{text[1:]}."
