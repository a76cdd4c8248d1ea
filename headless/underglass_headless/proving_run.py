"""One run of ``prove``: prove, then put every result in its place by rename and say what came of it."""

import os
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from underglass.proof.facts import PASS, Proof
from underglass.proof.record import proof_json
from underglass.proof.summary import summary_lines
from underglass.shot import read_shot

from .progress import Tell, shown_progress
from .proof.blender_process import require_blend
from .proof.proving import Options, prove
from .report.page import proof_page
from .report.table import measurement_table
from .results import publish, work_folder

PICTURES = Path("pictures")
WORK = "work"


# Makes a proof of a shot file in a work folder: returns it, pictures named as they will be placed, and their folder.
Making = Callable[[Path, Path, Tell], tuple[Proof, Path]]


def prove_and_write(
    shot: Path, *, options: Options, out: Path | None, work: Path | None, as_json: bool, echo: Callable[[str], None]
) -> int:
    """Prove ``shot``, write results to ``out`` (default: ``proof`` in the shot's folder), return the exit status.

    What a later run need not do again is kept in ``work`` (default: a folder in ``out``).
    """
    if options.scene is not None:
        require_blend(options.scene)

    def make(shot_file: Path, folder: Path, tell: Tell) -> tuple[Proof, Path]:
        proof = prove(shot_file, options=options, folder=work or folder.parent / WORK, tell=tell)
        placed = replace(proof, pictures={frame: PICTURES / picture_name(frame) for frame in proof.pictures})
        return placed, _place_pictures(proof, folder)

    return make_and_write(shot, make=make, out=out, as_json=as_json, echo=echo)


def make_and_write(shot: Path, *, make: Making, out: Path | None, as_json: bool, echo: Callable[[str], None]) -> int:
    """Have a proof of ``shot`` made, write its results to ``out``, say what came of it; return the exit status."""
    # Unlike Path.is_dir, this is silent where the path may not be looked at; opening it then tells why.
    shot_file = shot / "shot.toml" if os.path.isdir(shot) else shot  # noqa: PTH112
    if out is None and not shot_file.is_file():
        # Reading it says what is wrong, before a folder is made in a place that was mistyped.
        read_shot(shot_file)
    target = out if out is not None else shot_file.parent / "proof"
    existed = target.exists()
    try:
        with work_folder(target) as folder:
            with shown_progress(quiet=as_json) as tell:
                proof, made = make(shot_file, folder, tell)
            reports = _reports(proof)
            publish(
                {target / name: text for name, text in reports.items()},
                made=made,
                placed=target / PICTURES,
                making=folder,
            )
    finally:
        if not existed and target.is_dir() and not any(target.iterdir()):
            target.rmdir()
    if as_json:
        echo(reports["proof.json"].rstrip())
    else:
        for line in summary_lines(proof, results=target):
            echo(line)
    return 0 if proof.verdict == PASS else 1


def _reports(proof: Proof) -> dict[str, str]:
    """Return the text of every report, the machine's last: whoever finds a new proof.json finds the rest new too."""
    return {
        "measurements.csv": measurement_table(proof),
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
