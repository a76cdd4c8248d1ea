"""A proof as a job that farms take: a template of Open Job Description, 2023-09, with its extension TASK_CHUNKING.

Two steps: Render does the units of some test frames a task, into one work folder; Judge depends on it, finds all units
whole and judges. Every argument is one of a list, no shell is between, so names may hold anything but what the format
itself reads, ``{{``.
"""

import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from underglass.proof.verdict import DEFAULT_TOLERANCE_PX
from underglass.proof.wording import plain
from underglass.shot import UnderglassError

VERSION = "jobtemplate-2023-09"
CHUNKING = "TASK_CHUNKING"
# The specification's own limits, in characters: of a job's name, and of a parameter's value.
_MOST_NAME = 128
_MOST_VALUE = 1024
# A limit of the format is one that is met itself, and a tolerance has to be more than nothing and less than 1e6 px.
_LEAST_PX, _MOST_PX = 1e-12, math.nextafter(1e6, 0.0)
# Long enough for a worker to end Blender and put its files away.
_NOTIFY_S = 15


class TemplateError(UnderglassError):
    """A job cannot be described: one line says why."""


def job_template(
    *,
    title: str,
    shot: Path,
    folder: Path,
    frames: Sequence[int],
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
    refuse another state of the shot, and other versions of what does the work. Raises TemplateError.
    """
    files = [_path("Shot", shot, folder, "The shot file.")]
    if scene is not None:
        files.append(_path("Scene", scene, folder, "The Blender file that is proved against the shot."))
    given = ["{{Param.Shot}}", "--frames", "{{Param.Frames}}", "--work", "{{Param.Results}}/work"]
    given += ["--scene", "{{Param.Scene}}"] if scene is not None else []
    given += ["--samples", "{{Param.Samples}}", "--threads", "{{Param.Threads}}", "--log", "openjd"]
    given += [] if pictures else ["--no-pictures"]
    given += ["--depth-of-field"] if depth_of_field else []
    given += ["--every-pixel"] if every_pixel else []
    given += ["--full-size"] if full_size else []
    given += ["--job-key", key] if key else []
    return {
        "specificationVersion": VERSION,
        "extensions": [CHUNKING],
        "name": _name(title),
        "parameterDefinitions": [
            *files,
            {
                "name": "Results",
                "type": "PATH",
                "objectType": "DIRECTORY",
                "dataFlow": "OUT",
                "default": "proof",
                "description": "Where the proof is put, and before it the work: on a disk that all machines see.",
            },
            _plain("Frames", "STRING", _frames(frames), "Test frames, such as 1,48-60,144."),
            _plain("ChunkSize", "INT", chunk, "Test frames a task.", minValue=1),
            _plain("Threads", "INT", 0, "Threads of each Blender; 0: one for each core.", minValue=0, maxValue=1024),
            _plain("Samples", "INT", samples, "Samples a pixel of the pictures.", minValue=1, maxValue=4096),
            _plain(
                "Tolerance",
                "FLOAT",
                tolerance_px,
                "Largest error of a corner, px.",
                minValue=min(_LEAST_PX, tolerance_px),
                maxValue=_MOST_PX,
            ),
            _plain("Underglass", "STRING", "underglass", "The command on the machines that do the work."),
        ],
        "steps": [
            {
                "name": "Render",
                "description": "Renders and measures all frames; what is there whole is not done again.",
                "parameterSpace": {"taskParameterDefinitions": [_chunks()]},
                "script": _script(["prove", *given, "--share", "{{Task.Param.Frame}}"]),
            },
            {
                "name": "Judge",
                "description": "Judges what was measured, and fails where the proof does.",
                "dependencies": [{"dependsOn": "Render"}],
                "script": _script(
                    ["prove", *given, "--tolerance", "{{Param.Tolerance}}", "--out", "{{Param.Results}}"]
                ),
            },
        ],
    }


def template_text(template: dict[str, Any]) -> str:
    """Return the text of a template; JSON is one of the two forms that the specification has."""
    return json.dumps(template, indent=2) + "\n"


def ranges(frames: Sequence[int]) -> str:
    """Return ``frames`` as a range expression of the specification: ``1-4,9-25:8``."""
    left, pieces = sorted(set(frames)), []
    while left:
        step = left[1] - left[0] if len(left) > 1 else 1
        run = next((i for i in range(1, len(left)) if left[i] - left[i - 1] != step), len(left))
        # Two frames that are not neighbours are shorter as themselves, and the second may begin a run.
        run = 1 if run == 2 and step > 1 else run
        first, last = left[0], left[run - 1]
        pieces.append(str(first) if run == 1 else f"{first}-{last}" + (f":{step}" if step > 1 else ""))
        del left[:run]
    return ",".join(pieces)


def _frames(frames: Sequence[int]) -> str:
    text = ranges(frames)
    if len(text) > _MOST_VALUE:
        raise TemplateError(
            f"{len(set(frames))} test frames take {len(text)} characters to spell, and a job template has "
            f"{_MOST_VALUE} for them; choose fewer, or ranges of them"
        )
    return text


def _chunks() -> dict[str, Any]:
    return {
        "name": "Frame",
        "type": "CHUNK[INT]",
        "range": "{{Param.Frames}}",
        "chunks": {"defaultTaskCount": "{{Param.ChunkSize}}", "rangeConstraint": "NONCONTIGUOUS"},
    }


def _script(arguments: list[str]) -> dict[str, Any]:
    cancel = {"mode": "NOTIFY_THEN_TERMINATE", "notifyPeriodInSeconds": _NOTIFY_S}
    return {"actions": {"onRun": {"command": "{{Param.Underglass}}", "args": arguments, "cancelation": cancel}}}


def _path(name: str, path: Path, folder: Path, description: str) -> dict[str, Any]:
    """Return the parameter of a file; its default is its way from the template, where it lies below that."""
    found = {"name": name, "type": "PATH", "objectType": "FILE", "dataFlow": "IN", "description": description}
    place, origin = path.resolve(), folder.resolve()
    if not place.is_relative_to(origin):
        return found
    way = str(place.relative_to(origin))
    return found | {"default": _literal(way)} if len(way) <= _MOST_VALUE else found


def _plain(name: str, kind: str, default: object, description: str, **limits: float) -> dict[str, Any]:
    return {"name": name, "type": kind, "default": default, "description": description, **limits}


def _literal(text: str) -> str:
    if "{{" in text or "}}" in text:
        raise TemplateError(f"{plain(text)}: holds {{{{ or }}}}, which a job template reads as its own; rename it")
    if any("\ud800" <= c <= "\udfff" for c in text):
        raise TemplateError(f"{plain(text)}: is not spelled in UTF-8, as a job template has to be; rename it")
    return text


def _name(title: str) -> str:
    """Return the name of the job: the shot's title, without what the format reads as its own or may not hold."""
    words = plain(title).translate(str.maketrans("{}", "()")).strip()
    return f"Proof of {words or 'a shot'}"[:_MOST_NAME].rstrip()
