# SPDX-License-Identifier: GPL-3.0-or-later
"""Parts of a job template of Open Job Description, 2023-09: parameters, scripts, what a machine must have; its limits.

What a job is made of is elsewhere. Every argument is one of a list, no shell is between, so names may hold anything but
what the format itself reads, ``{{``.
"""

import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from underglass.proof.wording import plain
from underglass.shot import UnderglassError

from .task_needs import Need

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


def frames_text(frames: Sequence[int], *, what: str = "test frames") -> str:
    """Return ``frames`` as the value of a parameter; raises TemplateError where that is too long for one."""
    text = ranges(frames)
    if len(text) > _MOST_VALUE:
        raise TemplateError(
            f"{len(set(frames))} {what} take {len(text)} characters to spell, and a job template has "
            f"{_MOST_VALUE} for them; choose fewer, or ranges of them"
        )
    return text


def step(
    name: str,
    description: str,
    command: str,
    arguments: Sequence[str],
    *,
    need: Need,
    after: Sequence[str] = (),
    frames: tuple[str, str] | None = None,
) -> dict[str, Any]:
    """Return a step that runs a ``command`` with its ``arguments`` on machines that have what it needs.

    It waits for the steps ``after`` which it comes. ``frames`` is a range expression, and how neighbours make a chunk
    of it: CONTIGUOUS or NONCONTIGUOUS; each task then has a chunk as ``{{Task.Param.Frame}}``.
    """
    chunks = {} if frames is None else {"parameterSpace": {"taskParameterDefinitions": [_chunks(*frames)]}}
    waits = {"dependencies": [{"dependsOn": one} for one in after]} if after else {}
    amounts = [
        {"name": "amount.worker.vcpu", "min": need.cores},
        {"name": "amount.worker.memory", "min": need.memory_mib},
    ]
    cancel = {"mode": "NOTIFY_THEN_TERMINATE", "notifyPeriodInSeconds": _NOTIFY_S}
    action = {"command": command, "args": list(arguments), "timeout": need.seconds, "cancelation": cancel}
    return {
        "name": name,
        "description": description,
        **waits,
        "hostRequirements": {"amounts": amounts},
        **chunks,
        "script": {"actions": {"onRun": action}},
    }


def _chunks(frames: str, constraint: str) -> dict[str, Any]:
    return {
        "name": "Frame",
        "type": "CHUNK[INT]",
        "range": frames,
        "chunks": {"defaultTaskCount": "{{Param.ChunkSize}}", "rangeConstraint": constraint},
    }


def shot_parameters(shot: Path, folder: Path) -> tuple[dict[str, Any], str]:
    """Return the parameter of the shot's folder, and the argument that names the ``shot`` file in it.

    A folder as input is what a farm that copies files takes along whole: art, schedule, sheet and drawings, which all
    lie in it.
    """
    words = "The folder of the shot: its file, schedule, drawings and art."
    found = path_parameter("Shot", shot.parent, folder, words, kind="DIRECTORY")
    return found, "{{Param.Shot}}" + ("" if shot.name == "shot.toml" else f"/{literal(shot.name)}")


def path_parameter(name: str, path: Path, folder: Path, description: str, *, kind: str = "FILE") -> dict[str, Any]:
    """Return the parameter of an input; its default is its way from the template's ``folder``, if it lies below that.

    Raises TemplateError for a name that the format cannot hold.
    """
    found = {"name": name, "type": "PATH", "objectType": kind, "dataFlow": "IN", "description": description}
    place, origin = path.resolve(), folder.resolve()
    if not place.is_relative_to(origin):
        return found
    way = str(place.relative_to(origin))
    return found | {"default": literal(way)} if len(way) <= _MOST_VALUE else found


def output_parameter(name: str, default: str, description: str) -> dict[str, Any]:
    """Return the parameter of a folder that the job writes to."""
    kind = {"type": "PATH", "objectType": "DIRECTORY", "dataFlow": "OUT"}
    return {"name": name, **kind, "default": default, "description": description}


def parameter(name: str, kind: str, default: object, description: str, **limits: float) -> dict[str, Any]:
    """Return a parameter that is no path; ``limits`` are minValue and maxValue."""
    return {"name": name, "type": kind, "default": default, "description": description, **limits}


def tolerance_parameter(tolerance_px: float) -> dict[str, Any]:
    """Return the parameter of the tolerance, which takes what `prove` takes."""
    least = min(_LEAST_PX, tolerance_px)
    words = "Largest error of a corner, px."
    return parameter("Tolerance", "FLOAT", tolerance_px, words, minValue=least, maxValue=_MOST_PX)


def command_parameter() -> dict[str, Any]:
    """Return the parameter of the project's own command."""
    return parameter("Underglass", "STRING", "underglass", "The command on the machines that do the work.")


def literal(text: str) -> str:
    """Return ``text`` for a place where the format reads ``{{``; raises TemplateError where it would."""
    if "{{" in text or "}}" in text:
        raise TemplateError(f"{plain(text)}: holds {{{{ or }}}}, which a job template reads as its own; rename it")
    if any("\ud800" <= c <= "\udfff" for c in text):
        raise TemplateError(f"{plain(text)}: is not spelled in UTF-8, as a job template has to be; rename it")
    return text


def job_name(what: str, title: str) -> str:
    """Return the name of a job, ``what`` it is of the shot, without what the format reads as its own or cannot hold."""
    words = plain(title).translate(str.maketrans("{}", "()")).strip()
    return f"{what} {words or 'a shot'}"[:_MOST_NAME].rstrip()
