"""One run of ``prove``: prove, then put every result in its place by rename and say what came of it."""

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from .progress import shown_progress
from .proof.exr import read_picture
from .proof.facts import PASS, Proof
from .proof.proving import Options, prove, work_folder
from .report.files import ResultError, write_text
from .report.machine import proof_record
from .report.page import proof_page
from .report.pictures import write_picture
from .report.summary import summary_lines
from .report.table import measurement_table

RESULTS = "proof.json", "measurements.csv", "index.html"


def prove_and_write(
    shot: Path, *, options: Options, out: Path | None, as_json: bool, echo: Callable[[str], None]
) -> int:
    """Prove ``shot``, write results to ``out`` (default: ``proof`` in the shot's folder), return the exit status."""
    shot_file = shot / "shot.toml" if shot.is_dir() else shot
    target = out if out is not None else shot_file.parent / "proof"
    existed = target.exists()
    try:
        with work_folder(target) as folder:
            with shown_progress(quiet=as_json) as tell:
                proof = prove(shot_file, options=options, folder=folder, tell=tell)
            _publish(proof, folder, target)
            record = json.dumps(proof_record(_placed(proof, target)), indent=1, ensure_ascii=False)
            _write_reports(_placed(proof, target), record, target)
    finally:
        if not existed and target.is_dir() and not any(target.iterdir()):
            target.rmdir()
    if as_json:
        echo(record)
    else:
        for line in summary_lines(_placed(proof, target)):
            echo(line)
        echo(f"results: {target / 'index.html'}, {target / 'proof.json'}, {target / 'measurements.csv'}")
    return 0 if proof.verdict == PASS else 1


def _picture_name(frame: int) -> str:
    return f"{frame:04d}.png"


def _placed(proof: Proof, target: Path) -> Proof:
    """Return the proof with its pictures named as they lie in the results."""
    pictures = {frame: Path("pictures") / _picture_name(frame) for frame in proof.pictures}
    return replace(proof, pictures=pictures)


def _publish(proof: Proof, folder: Path, target: Path) -> None:
    """Put the pictures of this run in the place of those of an earlier one, whole folder for whole folder."""
    made = folder / "pictures"
    made.mkdir()
    for frame, exr in proof.pictures.items():
        write_picture(read_picture(exr), made / _picture_name(frame))
        exr.replace(made / f"{frame:04d}.exr")
    try:
        if (target / "pictures").exists():
            (target / "pictures").replace(folder / "earlier pictures")
        if proof.pictures:
            made.replace(target / "pictures")
    except OSError as error:
        raise ResultError(f"{target / 'pictures'}: cannot be replaced: {error.strerror}; close what uses it") from None
    shutil.rmtree(folder / "earlier pictures", ignore_errors=True)


def _write_reports(proof: Proof, record: str, target: Path) -> None:
    """Write the three reports, the machine's last: whoever finds a new proof.json finds the rest new too."""
    write_text(target / "measurements.csv", measurement_table(proof))
    write_text(target / "index.html", proof_page(proof))
    write_text(target / "proof.json", record + "\n")
