# SPDX-License-Identifier: GPL-3.0-or-later
"""What a task of a farm needs: cores, memory, and the time after which it hangs; from the frame's size and the levels.

The figures of memory are measured (headless/README.md, "On a farm") and rounded up; a farm's machine has more, or the
task goes to another one.
"""

import math
from dataclasses import dataclass

from ..blender.blender_process import silence_limit_s

MIB = 2**20
# A process that holds Blender with a scene of small art; the command that started it, where there is one; each level.
_BLENDER_MIB, _COMMAND_MIB, _LEVEL_MIB = 500, 200, 15
# Reading and judging delivered frames takes no Blender; each thread has a frame in hand, and one waits.
_READER_MIB, READERS = 500, 4
# Of art that is looked into, a level's or one of its drawings, so many are kept in blocks; one is read at a time.
_KEPT_ART, _KEPT_MIB, _READ_ART_BYTES = 64, 4, 60
# For each pixel that is rendered: the picture, what is worked out of it where it is measured too, and a level's pass.
_PIXEL_BYTES, _MEASURE_BYTES, _PASS_BYTES = 120, 200, 60
# For each pixel of art: as Blender reads it, and as Cycles has it.
_ART_BYTES = 8
# Levels that are rendered in one go on every pixel of a frame, see stage/render_frames.
_LEVELS_A_RENDER = 8
# Frames that are rendered for a delivery have as many samples as somebody wants: one that takes longer hangs.
FRAME_LIMIT_S = 3600
# Reading a frame takes a third of a second a core; of a slow disk much more.
_READ_LIMIT_S = 30
_START_S = 900


@dataclass(frozen=True)
class Need:
    """Least ``cores`` and ``memory_mib`` (MiB) of a machine, and the most ``seconds`` that a task may take."""

    cores: int
    memory_mib: int
    seconds: int


@dataclass(frozen=True)
class Measures:
    """How large a shot is: its frame (width, height), px, how many levels, and how many pixels all of its art has.

    ``drawings`` counts the files of art, of a level with drawings each of them; 0: one a level.
    """

    frame_px: tuple[int, int]
    levels: int
    art_px: int = 0
    drawings: int = 0

    @property
    def pixels(self) -> int:
        """The pixels of a frame."""
        return self.frame_px[0] * self.frame_px[1]


def proof_need(shot: Measures, *, chunk: int, samples: int, whole_frames: bool) -> Need:
    """Return what a task of ``chunk`` test frames needs that renders own passes, and pictures of so many ``samples``.

    ``whole_frames`` says that passes or pictures are as large as the frame.
    """
    # the grid of a test frame has one pixel in 25, a picture for a page 640 px across
    pixels = shot.pixels if whole_frames else max(shot.pixels // 25, 640 * 640)
    limit = silence_limit_s(samples, size=shot.frame_px, levels=shot.levels)
    memory = _blender_mib(shot, pixels, min(shot.levels, _LEVELS_A_RENDER))
    memory += math.ceil(_COMMAND_MIB + pixels * _MEASURE_BYTES / MIB)
    return Need(2, memory, _START_S + math.ceil(chunk * limit))


def render_need(shot: Measures, *, chunk: int) -> Need:
    """Return what a task of ``chunk`` frames needs that renders the picture with a pass a level."""
    return Need(2, _blender_mib(shot, shot.pixels, shot.levels), _START_S + chunk * FRAME_LIMIT_S)


def judge_need(shot: Measures, *, frames: int = 0) -> Need:
    """Return what a task needs that reads ``frames`` delivered frames, or what units of work left, and judges."""
    frame_mib = shot.pixels * (shot.levels * 3 + 4) * 4 / MIB
    held = (READERS + 1) * frame_mib + _art_mib(shot) if frames else 0
    return Need(1, math.ceil(_READER_MIB + held), _START_S + frames * _READ_LIMIT_S)


def _art_mib(shot: Measures) -> float:
    """Return what is held of art where delivered frames are judged: what is kept, and one piece as it is read."""
    piece_px = shot.art_px / max(1, shot.levels)
    kept = min(_KEPT_ART, shot.drawings or shot.levels) * (_KEPT_MIB + piece_px / MIB)
    return kept + piece_px * _READ_ART_BYTES / MIB


def _blender_mib(shot: Measures, pixels: int, passes: int) -> int:
    held = pixels * (_PIXEL_BYTES + _PASS_BYTES * passes) + shot.art_px * _ART_BYTES
    return math.ceil(_BLENDER_MIB + _LEVEL_MIB * shot.levels + held / MIB)
