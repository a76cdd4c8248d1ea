# SPDX-License-Identifier: GPL-3.0-or-later
"""Notes on where a scene comes from: what is linked, what was not run, which state of the shot it was built from."""

import re
from collections.abc import Iterator

from ...plan.plan_arrays import Plan
from ...reading.scene_reading import SceneReading
from ...shot.files.shot_fingerprint import fingerprint
from ..proof_facts import BLOCK, NOTE, Fault

NAN = float("nan")
_FINGERPRINT = re.compile("[0-9a-f]{16}")


def origin_notes(plan: Plan, *, reading: SceneReading) -> Iterator[Fault]:
    """Yield what is worth knowing of the scene's origin, and a fault for what may change the picture where it runs."""
    origin = reading.origin
    whole = int(plan.frames[0]), int(plan.frames[-1])

    def note(code: str, amount: float, unit: str, text: str) -> Fault:
        return Fault(code, NOTE, "scene", "", whole, amount, unit, 0.0, text)

    if origin.libraries:
        text = f"the stack is linked from {' and '.join(origin.libraries)}"
        yield note("linked", len(origin.libraries), "files", text)
    for what in origin.acting:
        text = f"{what}, can change what is rendered and was not run: bake what it does, or take it out"
        yield Fault("script-not-run", BLOCK, "scene", "", whole, NAN, "", NAN, text)
    held = [f"scripts ({', '.join(origin.scripts)})"] if origin.scripts else []
    if origin.expressions:
        held.append(f"{origin.expressions} driver{'s' if origin.expressions > 1 else ''} with Python in them")
    # Of a file whose scripts can act that is said, and not that it holds some.
    if held and not origin.acting:
        text = f"the scene's file holds {' and '.join(held)}; they were not run"
        yield note("scripts-not-run", len(origin.scripts) + origin.expressions, "", text)
    marks = [mark for mark in origin.built_from if _FINGERPRINT.fullmatch(mark)]
    if marks and fingerprint(plan.shot) not in marks:
        yield note("built-from-another", NAN, "", "the scene was built from another state of the shot's files")
