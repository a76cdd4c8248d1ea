# SPDX-License-Identifier: GPL-3.0-or-later
"""One run of ``prove --frames-from``: look and judge; results are put into their place as those of every proof are."""

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underglass.proof.proof_facts import Proof

from ..proving.prove_command import PICTURES, PROOF_OF_FRAMES, make_and_write, picture_name
from ..report.rendered_pictures import write_picture
from ..telling.logs import Voice
from ..telling.progress import Tell
from .prove_delivered import DeliveredOptions, prove_delivered


def prove_frames_and_write(shot: Path, *, options: DeliveredOptions, out: Path | None, voice: Voice) -> int:
    """Prove delivered frames of ``shot``, write results as `prove` does, return the exit status.

    They go to ``out``, or to a folder of their own in the shot's.
    """

    def make(shot_file: Path, folder: Path, tell: Tell) -> tuple[Proof, Path]:
        made = folder / PICTURES
        made.mkdir()

        def keep(frame: int, picture: NDArray[np.float32]) -> Path:
            path = made / picture_name(frame)
            write_picture(picture, path)
            return PICTURES / path.name

        return prove_delivered(shot_file, options=options, keep=keep, tell=tell), made

    return make_and_write(shot, make=make, out=out, default=PROOF_OF_FRAMES, voice=voice)
