# SPDX-License-Identifier: GPL-3.0-or-later
"""One run of ``prove``: prove, then put every result in its place by rename and say what came of it."""

import os
import shutil
import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from underglass.proof.proof_facts import PASS, Proof
from underglass.proof.proof_json import proof_json
from underglass.shot.files import read_shot
from underglass.shot.files.read import shot_file_of

from ..report.csv_tables import measurement_table
from ..report.junit import junit_xml
from ..report.proof_page import load_page, proof_page
from ..results import publish, work_folder
from ..telling.logs import Voice, tell_end, tell_share, told_failure, told_progress, unit_told
from ..telling.progress import Tell
from .prove_shot import Options, do_units_of, prove

PICTURES = Path("pictures")
WORK = "work"
# Where results go by default, in the shot's folder: neither kind of proof takes the place of the other.
PROOF, PROOF_OF_FRAMES = "proof", "proof-of-frames"


# Makes a proof of a shot file in a work folder: returns it, pictures named as they will be placed, and their folder.
Making = Callable[[Path, Path, Tell], tuple[Proof, Path]]


def prove_and_write(shot: Path, *, options: Options, out: Path | None, work: Path | None, voice: Voice) -> int:
    """Prove ``shot``, write results to ``out`` (default: ``proof`` in the shot's folder), return the exit status.

    What a later run need not do again is kept in ``work`` (default: a folder in ``out``).
    """

    def make(shot_file: Path, folder: Path, tell: Tell) -> tuple[Proof, Path]:
        place = work or folder.parent / WORK
        proof = prove(shot_file, options=options, folder=place, tell=tell, unit_told=unit_told(voice))
        placed = replace(proof, pictures={frame: PICTURES / picture_name(frame) for frame in proof.pictures})
        return placed, _place_pictures(proof, folder)

    return make_and_write(shot, make=make, out=out, default=PROOF, voice=voice)


def do_share(shot: Path, *, options: Options, share: tuple[int, ...], work: Path, voice: Voice) -> int:
    """Do what a proof on ``options.frames`` has to do on those of ``share``, into ``work``; return the exit status.

    Nothing is judged: a later run that is given the same frames and folder does that.
    """
    with told_failure(voice), told_progress(voice) as tell:
        done, kept = do_units_of(
            shot_file_of(shot), options=options, share=share, folder=work, tell=tell, unit_told=unit_told(voice)
        )
    tell_share(done=done, kept=kept, work=work, voice=voice)
    return 0


def make_and_write(shot: Path, *, make: Making, out: Path | None, default: str, voice: Voice) -> int:
    """Have a proof of ``shot`` made, write its results, say what came of it; return the exit status.

    They go to ``out``, or to a folder named ``default`` in the shot's.
    """
    with told_failure(voice):
        return _made_and_written(shot_file_of(shot), make=make, out=out, default=default, voice=voice)


def _made_and_written(shot_file: Path, *, make: Making, out: Path | None, default: str, voice: Voice) -> int:
    if out is None and not shot_file.is_file():
        # Reading it says what is wrong, before a folder is made in a place that was mistyped.
        read_shot(shot_file)
    target = out if out is not None else shot_file.parent / default
    # What makes the page takes half a second to load; until the proof is made this process only waits.
    threading.Thread(target=load_page, daemon=True).start()
    with work_folder(target) as folder:
        with told_progress(voice) as tell:
            proof, made = make(shot_file, folder, tell)
        reports = _reports(proof)
        publish(
            {target / name: text for name, text in reports.items()},
            made=made,
            placed=target / PICTURES,
            making=folder,
        )
    tell_end(proof, results=target, voice=voice)
    return 0 if proof.verdict == PASS else 1


def _reports(proof: Proof) -> dict[str, str]:
    """Return the text of every report, the machine's last: whoever finds a new proof.json finds the rest new too."""
    return {
        "measurements.csv": measurement_table(proof),
        "junit.xml": junit_xml(proof, when=datetime.now()),
        "index.html": proof_page(proof),
        "proof.json": proof_json(proof),
    }


def picture_name(frame: int) -> str:
    """Return the name of a frame's picture."""
    return f"{frame:04d}.png"


def _place_pictures(proof: Proof, folder: Path) -> Path:
    """Put what was rendered, as PNG with the scene-linear EXR beside it, into a folder of its own."""
    made = folder / PICTURES
    made.mkdir()
    for frame, png in proof.pictures.items():
        place = made / picture_name(frame)
        _share(png, place)
        _share(png.with_suffix(".exr"), place.with_suffix(".exr"))
    return made


def _share(file: Path, place: Path) -> None:
    """Let ``file``, which stays for a later run, be found at ``place`` too; on one disk its bytes lie there once."""
    try:
        os.link(file, place)
    except OSError:
        shutil.copyfile(file, place)
