# SPDX-License-Identifier: GPL-3.0-or-later
"""A proof for machines: the contents of proof.json.

They keep to the schema that the reports publish; a change that a reader could stumble over is a new ``format``.
"""

import json
import math
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from .expected_of_picture import Expected, expectations
from .proof_facts import Fault, Look, Measurement, Proof, Samples
from .wording import file_name

FORMAT = 1


def proof_record(proof: Proof) -> dict[str, Any]:
    """Return ``proof`` as plain values for JSON; a value that is NaN or infinite becomes None.

    Pixels count from the frame's centre, x right, y up; turns are degrees counter-clockwise. Files are named without
    the folders of the machine they lie on.
    """
    shot = proof.plan.shot
    return {
        "format": FORMAT,
        "shot": {
            "file": file_name(proof.shot_file),
            "title": shot.title,
            "units": shot.units,
            "fps": _number(shot.fps),
            "frames": list(shot.frames),
            "levels": list(shot.names),
        },
        "scene": file_name(proof.scene_file),
        "blender": proof.blender,
        "engine": proof.engine,
        "source": None if proof.source is None else asdict(proof.source),
        "frame_px": list(shot.camera.frame_px),
        "verdict": proof.verdict,
        "tolerance_px": _number(proof.tolerance_px),
        "checked_frames": [int(frame) for frame in proof.checked_frames],
        "rendered_frames": [int(frame) for frame in proof.rendered_frames],
        "test_frames": [int(frame) for frame in proof.test_frames],
        "samples": _samples(proof.samples),
        "expectations": [_expectation(one) for one in expectations(proof)],
        "faults": [fault_record(fault) for fault in proof.faults],
        "scene_error_px": scene_errors(proof),
        "measurements": [_measurement(measurement) for measurement in proof.measurements],
        "picture_reasons": {str(int(frame)): why for frame, why in sorted(proof.picture_reasons.items())},
        "pictures": {str(int(frame)): _path(path) for frame, path in sorted(proof.pictures.items())},
        "seconds": {stage: _number(seconds) for stage, seconds in proof.seconds.items()},
        "peak_memory_mb": _number(proof.peak_memory_mb),
        "units": None if proof.units is None else dict(zip(("done", "kept"), proof.units, strict=True)),
    }


def proof_json(proof: Proof) -> str:
    """Return the text of proof.json."""
    return json.dumps(proof_record(proof), ensure_ascii=False, allow_nan=False, indent=1) + "\n"


def scene_errors(proof: Proof) -> list[dict[str, Any]]:
    """Return for each level its worst displacement in the evaluated scene, on all frames that were checked.

    ``worst_px`` and ``frame`` are None for a level that is never there; ``missing_frames`` counts where it is not.
    """
    summaries = []
    for column, name in enumerate(proof.plan.names):
        error = proof.scene_error_px[:, column]
        there = np.isfinite(error)
        worst = int(np.where(there, error, -np.inf).argmax()) if there.any() else None
        summaries.append(
            {
                "level": name,
                "worst_px": None if worst is None else float(error[worst]),
                "frame": None if worst is None else int(proof.plan.frames[worst]),
                # Delivered frames have no scene in which a level could be missing.
                "missing_frames": int((~there).sum()) if proof.checked_frames else 0,
            }
        )
    return summaries


def _expectation(one: Expected) -> dict[str, Any]:
    return {
        "level": one.level,
        "kind": one.kind,
        "frames": [int(frame) for frame in one.frames],
        "expected": one.words,
        "met": one.met,
        "message": one.message,
    }


def fault_record(fault: Fault) -> dict[str, Any]:
    """Return a fault as plain values for JSON."""
    return {
        "code": fault.code,
        "severity": fault.severity,
        "subject": fault.subject,
        "axis": fault.axis,
        "frames": [int(frame) for frame in fault.frames],
        "amount": _number(fault.amount),
        "unit": fault.unit,
        "error_px": _number(fault.error_px),
        "message": fault.message,
    }


def _measurement(measurement: Measurement) -> dict[str, Any]:
    record = {
        "frame": int(measurement.frame),
        "level": measurement.level,
        "planned": _look(measurement.planned),
        "measured": None if measurement.measured is None else _look(measurement.measured),
        "error_px": _number(measurement.error_px),
        "uncertainty_px": _number(measurement.uncertainty_px),
        "verdict": measurement.verdict,
        "seen": bool(measurement.seen),
        "pixels": int(measurement.pixels),
        "strange": int(measurement.strange),
        "doubled": int(measurement.doubled),
        "missing": int(measurement.missing),
    }
    return record | ({"remark": measurement.remark} if measurement.remark else {})


def _samples(samples: Samples | None) -> dict[str, Any] | None:
    if samples is None:
        return None
    return {
        "datum_frames": int(samples.datum_frames),
        "spacing_px": [_number(part) for part in samples.spacing_px],
        "shift_px": _number(samples.shift_px),
        "scale_off": _number(samples.scale_off),
        "shear": _number(samples.shear),
        "farthest_px": _number(samples.farthest_px),
    }


def _look(look: Look) -> dict[str, float | None]:
    return {"size_px": _number(look.size_px), "x": _number(look.x), "y": _number(look.y), "turn": _number(look.turn)}


def _number(value: float | None) -> float | None:
    """Return a float of Python's own (numpy's are not for JSON), and None for what is no number."""
    return None if value is None or not math.isfinite(value) else float(value)


def _path(path: Path) -> str:
    return path.as_posix()
