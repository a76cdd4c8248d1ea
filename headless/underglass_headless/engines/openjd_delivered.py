# SPDX-License-Identifier: GPL-3.0-or-later
"""Frames that a farm renders, and their proof, as one job: a template of Open Job Description, 2023-09.

The shot is cut into parts. Of each, a step Render lets Blender render it, and a step Check judges it as soon as it is
rendered: a step may wait for a step, but no task for a task, and what is wrong should not be found in the morning.
Judge waits for all of them and gives the verdict. Rendering takes Blender alone, judging no Blender.

Checks go in order, and a part is rendered only once the parts well before it were found good: so one that is wrong
stops the job whatever a farm does with steps that do not depend on it, and is the only one that is told.
"""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from underglass.proof.tolerance import DEFAULT_TOLERANCE_PX

from .openjd_parts import (
    CHUNKING,
    VERSION,
    command_parameter,
    frames_text,
    job_name,
    output_parameter,
    parameter,
    path_parameter,
    shot_parameters,
    step,
    tolerance_parameter,
)
from .task_needs import READERS, Measures, judge_need, render_need

# So many tasks of Render are checked together; and more where there would be too many steps for a farm's list.
_CHUNKS_A_PART = 6
_MOST_PARTS = 45
# So many parts may be rendered that are not checked yet: enough for some two dozen machines, and not the whole night.
_AHEAD = 4
_CHUNK = "{{Task.Param.Frame}}"
# Blender does what its command line says in order: this sets the range that the -a after it renders.
_SET_RANGE = f"""\
import bpy
if not bpy.data.filepath:
    print("openjd_fail: Blender cannot open the scene, or has none to open", flush=True)
    raise RuntimeError("no scene")
if not any(aov.name.startswith("proof") for layer in bpy.context.scene.view_layers for aov in layer.aovs):
    print("openjd_fail: the scene has no proof passes to judge by; build it with --proof-passes", flush=True)
    raise RuntimeError("no proof passes")
scene, (first, _, last) = bpy.context.scene, "{_CHUNK}".partition("-")
scene.frame_start, scene.frame_end, scene.frame_step = int(first), int(last or first), 1
def told(scene, *_):
    done = scene.frame_current - scene.frame_start + 1
    print("openjd_progress:", 100.0 * done / (scene.frame_end - scene.frame_start + 1), flush=True)
bpy.app.handlers.render_write.append(told)
"""


def delivered_template(
    *,
    title: str,
    shot: Path,
    folder: Path,
    scene: Path,
    frames: Sequence[int],
    measures: Measures,
    whole: bool = True,
    tolerance_px: float = DEFAULT_TOLERANCE_PX,
    pictures: bool = True,
    chunk: int = 4,
) -> dict[str, Any]:
    """Return the template of a job that renders ``frames`` of ``scene`` and judges them, to be put into ``folder``.

    ``whole`` says that they are all that the shot has; ``chunk`` is how many a task renders. Raises TemplateError.
    """
    shot_folder, shot_word = shot_parameters(shot, folder)
    given = ["prove", shot_word, "--frames-from", "{{Param.Rendered}}", "--tolerance", "{{Param.Tolerance}}"]
    # Each thread holds a frame: on a machine of many cores they would take what other tasks need.
    given += ["--threads", str(READERS), "--log", "openjd"]
    parts = _parts(frames, chunk)
    checks = [_check(part) for part in parts]
    frames_words = [] if whole else ["--frames", frames_text(frames, what="frames")]
    results = "Where the proof is put, and in its folder checks what the parts came to."
    return {
        "specificationVersion": VERSION,
        "extensions": [CHUNKING],
        "name": job_name("Frames and proof of", title),
        "parameterDefinitions": [
            shot_folder,
            path_parameter("Scene", scene, folder, "The Blender file to render, built with --proof-passes."),
            output_parameter("Rendered", "frames", "Where the frames are put: on a disk that all machines see."),
            output_parameter("Results", "proof", results),
            parameter("ChunkSize", "INT", chunk, "Frames that a task renders.", minValue=1),
            parameter("Threads", "INT", 0, "Threads of each Blender; 0: one for each core.", minValue=0, maxValue=1024),
            tolerance_parameter(tolerance_px),
            parameter("Blender", "STRING", "blender", "Blender's command on the machines that render."),
            command_parameter(),
        ],
        "steps": [
            *(
                one
                for number, part in enumerate(parts)
                for one in _render_and_check(part, given, before=checks[:number], measures=measures, chunk=chunk)
            ),
            step(
                "Judge",
                "Judges all frames together, and fails where the proof does.",
                "{{Param.Underglass}}",
                [*given, *frames_words, *([] if pictures else ["--no-pictures"]), "--out", "{{Param.Results}}"],
                need=judge_need(measures, frames=len(frames)),
                after=checks,
            ),
        ],
    }


def _render_and_check(
    part: Sequence[int], given: Sequence[str], *, before: Sequence[str], measures: Measures, chunk: int
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the two steps of a ``part``; ``before`` are the checks of the parts before it."""
    render, frames = f"Render {_span(part)}", frames_text(part, what="frames")
    blender = ["-b", "{{Param.Scene}}", "-t", "{{Param.Threads}}", "--python-exit-code", "1"]
    blender += ["-o", "{{Param.Rendered}}/beauty.####", "--python-expr", _SET_RANGE, "-a"]
    results = f"{{{{Param.Results}}}}/checks/{_span(part)}"
    return (
        step(
            render,
            "Blender renders these frames.",
            "{{Param.Blender}}",
            blender,
            need=render_need(measures, chunk=chunk),
            after=before[-_AHEAD:][:1] if len(before) >= _AHEAD else [],
            frames=(frames, "CONTIGUOUS"),
        ),
        step(
            _check(part),
            "Judges these frames alone, and fails where they are wrong whatever the others show.",
            "{{Param.Underglass}}",
            [*given, "--frames", frames, "--part", "--no-pictures", "--out", results],
            need=judge_need(measures, frames=len(part)),
            after=[render, *before[-1:]],
        ),
    )


def _parts(frames: Sequence[int], chunk: int) -> list[list[int]]:
    """Return the frames in parts of whole chunks."""
    ordered = sorted(set(frames))
    chunks = max(_CHUNKS_A_PART, -(-len(ordered) // (_MOST_PARTS * chunk)))
    length = chunk * chunks
    return [ordered[start : start + length] for start in range(0, len(ordered), length)]


def _check(part: Sequence[int]) -> str:
    return f"Check {_span(part)}"


def _span(part: Sequence[int]) -> str:
    return f"{part[0]}-{part[-1]}"
