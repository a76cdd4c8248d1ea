# SPDX-License-Identifier: GPL-3.0-or-later
"""One run of ``plan`` or ``guide``: read, work out, write by rename, and say what came of it."""

import json
import os
from collections.abc import Callable
from pathlib import Path

from underglass.plan import make_plan
from underglass.shot.files import read_shot
from underglass.shot.files.read import SHOT_FILE

from ..results import publish, work_folder
from .brief.brief_file import BRIEF_FILE, read_brief
from .guide.guide_facts import guides_of
from .guide.guide_page import verdict
from .guide.write_guide import PAGE, TEMPLATES, make_guide
from .planner import Clash, Prefer, plan_brief
from .planner.plan_in_words import clash_facts, clash_lines, facts, plan_lines
from .planner.write_plan import with_art_in, write_plan

Echo = Callable[[str], None]


def plan_and_write(brief_file: Path, *, out: Path, prefer: Prefer, compromise: bool, as_json: bool, echo: Echo) -> int:
    """Plan a brief and write the shot and its guide into ``out``; return 1 where no stack fits.

    Then nothing is written, but for the best plan inside the limits where a ``compromise`` is asked for.
    """
    # Unlike Path.is_dir, this is silent where the path may not be looked at; opening it then tells why.
    file = brief_file / BRIEF_FILE if os.path.isdir(brief_file) else brief_file  # noqa: PTH112
    brief = with_art_in(read_brief(file), out)
    unpainted = tuple(level.name for level in brief.draft.levels if not all(level.art_px))
    answer = plan_brief(brief, prefer=prefer)
    fits = not isinstance(answer, Clash)
    told = facts(answer) if not isinstance(answer, Clash) else clash_facts(answer)
    lines = list(plan_lines(answer) if not isinstance(answer, Clash) else clash_lines(answer))
    found = answer.nearest if isinstance(answer, Clash) else answer
    if found is not None and (fits or compromise):
        kept = write_plan(found, out, unpainted=unpainted)
        lines += ["", f"written: {out / SHOT_FILE} and {out / PAGE}"]
        lines += [f"what was there is kept as {' and '.join(kept)}"] if kept else []
    echo(json.dumps(told, indent=2, ensure_ascii=False) if as_json else "\n".join(lines))
    return 0 if fits else 1


def guide_and_write(shot_file: Path, *, out: Path, bleed: float, echo: Echo) -> None:
    """Write the painting guide of a shot into ``out``: the page and the folder of templates; ``bleed`` in metres."""
    plan = make_plan(read_shot(shot_file))
    guides = guides_of(plan, bleed=bleed)
    with work_folder(out) as making:
        made = making / "guide"
        made.mkdir()
        page = make_guide(plan, guides, made=made, unpainted=())
        publish({out / PAGE: page}, made=made, placed=out / TEMPLATES, making=making)
    echo(f"{plan.shot.title}: {verdict(plan, guides)}")
    echo(f"written: {out / PAGE}")
