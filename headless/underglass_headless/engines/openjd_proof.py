# SPDX-License-Identifier: GPL-3.0-or-later
"""A proof as a job that farms take: a template of Open Job Description, 2023-09, with its extension TASK_CHUNKING.

Two steps: Render does the units of some test frames a task, into one work folder; Judge depends on it, finds all units
whole and judges.
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
from .task_needs import Measures, judge_need, proof_need


def job_template(
    *,
    title: str,
    shot: Path,
    folder: Path,
    frames: Sequence[int],
    measures: Measures,
    scene: Path | None = None,
    tolerance_px: float = DEFAULT_TOLERANCE_PX,
    pictures: bool = True,
    samples: int = 1,
    depth_of_field: bool = False,
    every_pixel: bool = False,
    full_size: bool = False,
    chunk: int = 4,
    key: str = "",
) -> dict[str, Any]:
    """Return the template of a proof on the test ``frames``, to be put into ``folder``.

    Files beside it or below it are its parameters' defaults; others have none, since a default may not lead out of the
    template's folder (an absolute one passes a check of the template, and no run). ``key`` of the job has every task
    refuse another state of the shot, and other versions of what does the work. ``measures`` say what the machines need.
    Raises TemplateError.
    """
    shot_folder, shot_word = shot_parameters(shot, folder)
    files = [shot_folder]
    if scene is not None:
        files.append(path_parameter("Scene", scene, folder, "The Blender file that is proved against the shot."))
    given = [shot_word, "--frames", "{{Param.Frames}}", "--work", "{{Param.Results}}/work"]
    given += ["--scene", "{{Param.Scene}}"] if scene is not None else []
    given += ["--samples", "{{Param.Samples}}", "--threads", "{{Param.Threads}}", "--log", "openjd"]
    given += [] if pictures else ["--no-pictures"]
    given += ["--depth-of-field"] if depth_of_field else []
    given += ["--every-pixel"] if every_pixel else []
    given += ["--full-size"] if full_size else []
    given += ["--job-key", key] if key else []
    results = "Where the proof is put, and before it the work: on a disk that all machines see."
    return {
        "specificationVersion": VERSION,
        "extensions": [CHUNKING],
        "name": job_name("Proof of", title),
        "parameterDefinitions": [
            *files,
            output_parameter("Results", "proof", results),
            parameter("Frames", "STRING", frames_text(frames), "Test frames, such as 1,48-60,144."),
            parameter("ChunkSize", "INT", chunk, "Test frames a task.", minValue=1),
            parameter("Threads", "INT", 0, "Threads of each Blender; 0: one for each core.", minValue=0, maxValue=1024),
            parameter("Samples", "INT", samples, "Samples a pixel of the pictures.", minValue=1, maxValue=4096),
            tolerance_parameter(tolerance_px),
            command_parameter(),
        ],
        "steps": [
            step(
                "Render",
                "Renders and measures all frames; what is there whole is not done again.",
                "{{Param.Underglass}}",
                ["prove", *given, "--share", "{{Task.Param.Frame}}"],
                need=proof_need(measures, chunk=chunk, samples=samples, whole_frames=every_pixel or full_size),
                frames=("{{Param.Frames}}", "NONCONTIGUOUS"),
            ),
            step(
                "Judge",
                "Judges what was measured, and fails where the proof does.",
                "{{Param.Underglass}}",
                ["prove", *given, "--tolerance", "{{Param.Tolerance}}", "--out", "{{Param.Results}}"],
                need=judge_need(measures),
                after=["Render"],
            ),
        ],
    }
