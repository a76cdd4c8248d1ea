# SPDX-License-Identifier: GPL-3.0-or-later
"""What a proof found: plain frozen values that the judge makes and the reports write.

Nothing is measured, compared or printed here.
"""

from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from ..plan.plan_arrays import Plan

PASS = "pass"
FAIL = "fail"

# How serious a fault is: one that blocks fails the proof, a note does no harm to the picture.
BLOCK = "block"
NOTE = "note"


@dataclass(frozen=True)
class Look:
    """How one level looks on one frame: pixels from the frame's centre, x right, y up; ``turn`` in degrees."""

    size_px: float
    x: float
    y: float
    turn: float


@dataclass(frozen=True)
class Measurement:
    """One level on one rendered frame, planned against measured.

    ``measured`` is None where the level could not be seen in the pixels (out of frame, hidden from render, gone);
    ``error_px`` is the largest distance over the four corners of the art between where a corner is and where it was
    planned; ``uncertainty_px`` is its expanded uncertainty (k = 2). ``seen`` tells whether pixels were there.
    ``remark`` says why nothing was measured, or what is odd about it, else it is empty. ``whole`` tells whether as much
    of the level is in the pixels as should be; of one that is cut off the rest may be measured well.

    ``judged_px`` ± ``judged_uncertainty_px`` is what the verdict goes by where that is not the error at the corners of
    the art: how far what shows of the level is from its place.

    ``pixels`` is by how many it was measured; ``strange`` of them were set aside, since they are not where the others
    put them, ``doubled`` show two surfaces of the level, and ``missing`` show nothing of it inside its outline. ``why``
    is the code of what is odd about its surface, else empty.
    """

    frame: int
    level: str
    planned: Look
    measured: Look | None
    error_px: float | None
    uncertainty_px: float | None
    verdict: str
    seen: bool
    remark: str = ""
    whole: bool = True
    pixels: int = 0
    strange: int = 0
    doubled: int = 0
    missing: int = 0
    why: str = ""
    judged_px: float | None = None
    judged_uncertainty_px: float | None = None


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong, in the words of the trade.

    ``code`` is a stable word for machines (``height-off``); ``subject`` is a level's name, ``camera`` or ``scene``;
    ``axis`` may be empty; ``frames`` first and last frame it is seen on; ``amount`` in ``unit`` (units of the stand,
    degrees, frames, percent), NaN where a number says nothing; ``error_px`` the worst displacement it makes on screen.
    ``severity`` is block (the proof fails) or note (worth knowing, does no harm to the picture).
    """

    code: str
    severity: str
    subject: str
    axis: str
    frames: tuple[int, int]
    amount: float
    unit: str
    error_px: float
    message: str


@dataclass(frozen=True)
class Source:
    """What a verdict on delivered frames goes by.

    ``kind`` is "proof passes", "cryptomatte", "picture", or "files" where those alone were judged; ``files`` names the
    sequence; ``shows`` and ``cannot_show`` say in words what that tells of the shot and what not.
    """

    kind: str
    files: str
    shows: str
    cannot_show: str


@dataclass(frozen=True)
class Samples:
    """Where the samples of all measured frames lie, against the centres of their pixels, as the datum told.

    ``datum_frames`` is on how many it told; ``spacing_px`` the least and the greatest distance between two samples;
    ``shift_px``, ``scale_off`` and ``shear`` the greatest of any frame, by size; ``farthest_px`` the greatest distance
    of any sample from its pixel's centre. NaN where no datum told.
    """

    datum_frames: int
    spacing_px: tuple[float, float]
    shift_px: float
    scale_off: float
    shear: float
    farthest_px: float


@dataclass(frozen=True)
class Proof:
    """A whole proof.

    ``scene_error_px`` (F, L) is the largest corner displacement in the evaluated scene on every frame (NaN where the
    level is not in the scene); ``pictures`` maps a rendered frame to its picture as PNG, relative to the results'
    folder, ``picture_reasons`` to why it was rendered; ``seconds`` maps each stage of the work to the time it took.
    ``rendered_frames`` are all that were measured in pixels, ``test_frames`` those of them on the fine grid, and
    ``samples`` tells where their samples lie. ``source`` is None where a scene was proved; of
    delivered frames it says what they were judged by, and no frame of a scene was checked. ``peak_memory_mb`` is the
    most memory that the work took, MB (10⁶ bytes), ``units`` how many units of work were done now and how many an
    earlier run had done; None where nobody counted.
    """

    plan: Plan
    shot_file: Path
    scene_file: Path | None
    blender: str
    engine: str
    tolerance_px: float
    verdict: str
    checked_frames: tuple[int, ...]
    rendered_frames: tuple[int, ...]
    measurements: tuple[Measurement, ...]
    faults: tuple[Fault, ...]
    scene_error_px: NDArray[np.float64]
    pictures: dict[int, Path] = field(default_factory=dict)
    seconds: dict[str, float] = field(default_factory=dict)
    source: Source | None = None
    test_frames: tuple[int, ...] = ()
    picture_reasons: dict[int, str] = field(default_factory=dict)
    samples: Samples | None = None
    peak_memory_mb: float | None = None
    units: tuple[int, int] | None = None
