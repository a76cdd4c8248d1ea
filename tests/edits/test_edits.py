# SPDX-License-Identifier: GPL-3.0-or-later
"""Whatever a hand does to a built scene: what changes a pixel is named by its cause, and what changes none passes.

``python3 tests/run.py --suite edits`` does every edit of the table; the default run does a few of each kind.
UNDERGLASS_EDITS=NAME does those alone whose name holds it.
"""

import json
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from edits.judging import Ended, table, wrong_in
from edits.shots import edited_shot

pytestmark = [pytest.mark.bpy, pytest.mark.render]

WANTED = os.environ.get("UNDERGLASS_EDITS", "")
# One or two of every kind: what has to be found, and what has to pass.
QUICK = (
    "view_settings.view_transform = AgX",
    "view curves on, and straight",
    "render.image_settings.color_mode = BW",
    "material override",
    "a compositor that changes nothing",
    "a scene in the background",
    "render.frame_map_new = 150",
    "a modifier that only renders",
    "a modifier that only the viewport shows",
    "a pulled corner",
    "a wider sensor",
    "a marker that cuts to another camera",
    "a copy of a level in another place",
    "the mapping of an image moved",
    "a strength keyed between",
    "a reroute",
    "the same bytes under another name",
    "a bird that crosses on two frames",
    "a fully clear card before the stack",
    "a large card behind the stack, seen through its window",
    "lamps in a collection that is held out",
)
# The number that the suite stands for.
LEAST_EDITS = 150


def ended_edits(names: list[str] | None, folder: Path, run_in_blender: Callable[..., Any]) -> list[Ended]:
    """Return how edits ended, all of the table without ``names``; as many processes as there are cores share them."""
    script = Path(__file__).with_name("editing.py")
    share = len(os.sched_getaffinity(0))

    def run(number: int) -> list[Ended]:
        shot = edited_shot(folder / f"shot{number}")
        asked, out = folder / f"asked{number}.json", folder / f"ended{number}.jsonl"
        asked.write_text(json.dumps({"names": names, "part": number, "parts": share, "holding": WANTED}))
        run_in_blender(script, shot, asked, out, timeout=3500)
        return [Ended(**json.loads(line)) for line in out.read_text(encoding="utf-8").splitlines()]

    with ThreadPoolExecutor(share) as pool:
        return [one for some in pool.map(run, range(share)) for one in some]


def hold(ended: list[Ended]) -> None:
    """Print the table, and fail with a line for every edit that ended otherwise than its pixels say."""
    print("\n" + table(ended))
    wrong = [f"{one.name}: {why}" for one in ended if (why := wrong_in(one))]
    print("\n".join(wrong))
    assert not wrong, f"{len(wrong)} of {len(ended)} edits ended wrongly; UNDERGLASS_EDITS=NAME does one again"


@pytest.mark.timeout(900)
def test_a_few_edits_of_each_kind_are_named_or_pass(tmp_path: Path, run_in_blender: Callable[..., Any]) -> None:
    ended = ended_edits(list(QUICK), tmp_path, run_in_blender)
    assert {one.name for one in ended} == set(QUICK)
    assert {one.changes for one in ended} == {True, False}
    hold(ended)


@pytest.mark.edits
@pytest.mark.timeout(3600)
def test_every_edit_that_changes_a_pixel_is_named_by_its_cause_and_every_other_passes(
    tmp_path: Path, run_in_blender: Callable[..., Any]
) -> None:
    ended = ended_edits(None, tmp_path, run_in_blender)
    assert len(ended) >= LEAST_EDITS or WANTED
    hold(ended)
