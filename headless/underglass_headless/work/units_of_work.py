# SPDX-License-Identifier: GPL-3.0-or-later
"""What a unit of work is: the only place that knows. Engines hand units out, Blender does them, the judge gathers them.

A unit reads the scene, or renders and measures a run of frames on a coarse grid or one test frame on a fine one, or
renders a picture. What comes of it is a few files in one folder, the last of them a JSON that says what the others must
be: whoever finds it whole finds the unit whole. No bpy, and nothing of engines.
"""

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import Any

READ, SWEEP, PASSES, PICTURE = "read", "sweep", "passes", "picture"
FORMAT = 2
# A sweep of so many frames takes a few seconds: long enough to be worth handing out, short enough to be shared.
MOST_FRAMES_OF_A_SWEEP = 24


@dataclass(frozen=True)
class Unit:
    """One piece of work. ``frames`` are the test frames, or those of a sweep; a pass or a picture has one.

    ``step`` is the grid of a test frame's passes, px; ``samples`` a pixel of a picture, and ``width`` its px across, 0
    for all of the frame's. Each has its default in kinds without.
    """

    kind: str
    frames: tuple[int, ...]
    step: int = 0
    samples: int = 0
    depth_of_field: bool = False
    width: int = 0

    @property
    def frame(self) -> int:
        """The frame that is rendered."""
        return self.frames[0]

    @property
    def name(self) -> str:
        """How its files begin; two units of one job that differ in anything have other names."""
        match self.kind:
            case "read":
                text = ",".join(map(str, self.frames))
                return f"read-{hashlib.sha256(text.encode()).hexdigest()[:12]}"
            case "sweep":
                text = ",".join(map(str, self.frames))
                return f"sweep-{self.frame:04d}-{hashlib.sha256(text.encode()).hexdigest()[:12]}"
            case "passes":
                return f"passes-{self.frame:04d}-every{self.step}"
            case _:
                look = "soft" if self.depth_of_field else "sharp"
                size = f"-{self.width}" if self.width else ""
                return f"picture-{self.frame:04d}-{look}-{self.samples}{size}"

    @property
    def result_file(self) -> str:
        """The file that says that the unit is whole."""
        return f"{self.name}.json"

    def words(self) -> dict[str, Any]:
        """Return the unit as plain values for JSON."""
        return {
            "kind": self.kind,
            "frames": list(self.frames),
            "step": self.step,
            "samples": self.samples,
            "depth_of_field": self.depth_of_field,
            "width": self.width,
        }

    @classmethod
    def from_words(cls, words: Mapping[str, Any]) -> "Unit":
        """Return the unit that `words` made; raises ValueError for anything else."""
        try:
            frames = tuple(int(frame) for frame in words["frames"])
            unit = cls(
                str(words["kind"]),
                frames,
                int(words["step"]),
                int(words["samples"]),
                bool(words["depth_of_field"]),
                int(words["width"]),
            )
        except (KeyError, TypeError, ValueError):
            raise ValueError("it is no unit of work") from None
        if unit.kind not in {READ, SWEEP, PASSES, PICTURE} or not frames:
            raise ValueError("it is no unit of work")
        return unit

    def told(self) -> str:
        """Return what the unit does, for a line of text."""
        match self.kind:
            case "read":
                return "reading the scene"
            case "sweep":
                return f"measuring frames {self.frame} to {self.frames[-1]}"
            case "passes":
                return f"rendering the proof passes of frame {self.frame}"
            case _:
                return f"rendering the picture of frame {self.frame}"


@dataclass(frozen=True)
class Job:
    """What every process that does units of one proof has to know.

    ``scene`` is a .blend, None for a stack that is built from ``shot``; ``span`` first and last frame of the shot;
    ``makers`` the versions that do the work, by name; ``key`` what all of it comes to, see `job_key`. ``frame_px`` and
    the number of ``levels`` tell how long a picture may take. ``threads`` of Blender, 0 for as many as there are cores,
    is no part of the key, and neither is where a file lies.
    """

    shot: Path
    scene: Path | None
    fingerprint: str
    span: tuple[int, int]
    makers: tuple[tuple[str, str], ...]
    key: str
    frame_px: tuple[int, int]
    levels: int
    threads: int = 0

    def words(self) -> dict[str, Any]:
        """Return the job as plain values for JSON."""
        return {
            "shot": str(self.shot),
            "scene": str(self.scene) if self.scene else "",
            "fingerprint": self.fingerprint,
            "span": list(self.span),
            "makers": [list(pair) for pair in self.makers],
            "key": self.key,
            "frame_px": list(self.frame_px),
            "levels": self.levels,
            "threads": self.threads,
        }

    @classmethod
    def from_words(cls, words: Mapping[str, Any]) -> "Job":
        """Return the job that `words` made."""
        (first, last), (width, height) = words["span"], words["frame_px"]
        return cls(
            shot=Path(words["shot"]),
            scene=Path(words["scene"]) if words["scene"] else None,
            fingerprint=words["fingerprint"],
            span=(first, last),
            makers=tuple((name, version) for name, version in words["makers"]),
            key=words["key"],
            frame_px=(width, height),
            levels=words["levels"],
            threads=words["threads"],
        )


def units_of(
    frames: Sequence[int],
    *,
    span: tuple[int, int],
    step: int,
    pictures: Iterable[int],
    samples: int,
    depth_of_field: bool,
    width: int = 0,
) -> tuple[Unit, ...]:
    """Return every unit of a proof on the test ``frames`` of a shot that goes over ``span``, with ``pictures`` of some,
    in the order in which one process does best to do them.
    """
    sweeps = (Unit(SWEEP, chunk) for run in _between(frames, span) for chunk in _chunks(run))
    passes = (Unit(PASSES, (frame,), step=step) for frame in frames)
    looks = (Unit(PICTURE, (frame,), samples=samples, depth_of_field=depth_of_field, width=width) for frame in pictures)
    return (Unit(READ, tuple(frames)), *sweeps, *passes, *looks)


def share_of(unit: Unit, frames: Sequence[int]) -> int:
    """Return the test frame, of all ``frames``, whose share of the work a unit is: the last one that is not after it.

    What comes before the first test frame is its share too, and so is the reading of the scene.
    """
    return max((frame for frame in frames if frame <= unit.frame), default=min(frames))


def _between(frames: Sequence[int], span: tuple[int, int]) -> Iterable[tuple[int, ...]]:
    """Yield the frames of ``span`` that lie before, between and after the test ``frames``."""
    ends = [span[0] - 1, *sorted(frames), span[1] + 1]
    for before, after in pairwise(ends):
        if run := tuple(range(before + 1, after)):
            yield run


def _chunks(run: tuple[int, ...]) -> Iterable[tuple[int, ...]]:
    """Yield a run of frames in pieces of about the same length."""
    count = -(-len(run) // MOST_FRAMES_OF_A_SWEEP)
    length = -(-len(run) // count)
    for start in range(0, len(run), length):
        yield run[start : start + length]


def job_key(fingerprint: str, *, contents: Iterable[str], makers: Sequence[tuple[str, str]]) -> str:
    """Return 16 hexadecimal digits that change with the shot, the bytes that it is made of and what does the work.

    ``contents`` are digests of the art, or of the .blend: results of one key serve again wherever the files lie.
    """
    text = json.dumps([FORMAT, fingerprint, list(contents), [list(pair) for pair in makers]])
    return hashlib.sha256(text.encode()).hexdigest()[:16]
