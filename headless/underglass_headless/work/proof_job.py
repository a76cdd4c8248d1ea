# SPDX-License-Identifier: GPL-3.0-or-later
"""Making the job of a proof: what is to be proved, and the digest of all that its results depend on."""

from pathlib import Path

from underglass.plan import Plan
from underglass.shot import Shot, UnderglassError
from underglass.shot.files.shot_fingerprint import fingerprint

from .unit_results import file_digest
from .units_of_work import Job, job_key
from .versions_used import makers


def make_job(plan: Plan, *, shot_file: Path, scene: Path | None = None, threads: int = 0) -> Job:
    """Return the job that proves ``plan`` of ``shot_file``, or the .blend ``scene`` against it.

    Reads all art, or the .blend: raises OSError where that cannot be done.
    """
    shot, makes = plan.shot, makers()
    return Job(
        shot=shot_file.resolve(),
        scene=scene.resolve() if scene else None,
        fingerprint=fingerprint(shot),
        span=(int(plan.frames[0]), int(plan.frames[-1])),
        makers=makes,
        key=_key(shot, scene, makes),
        frame_px=shot.camera.frame_px,
        levels=len(shot.levels),
        threads=threads,
    )


def require_unchanged(job: Job, shot: Shot) -> None:
    """Raise UnderglassError where ``shot``, as it was read, and the files of ``job`` are not what that was made for."""
    if _key(shot, job.scene, job.makers) != job.key:
        raise UnderglassError(f"{job.scene or job.shot}: its files changed after the proof began; run it again")


def _key(shot: Shot, scene: Path | None, makes: tuple[tuple[str, str], ...]) -> str:
    art = sorted({name for level in shot.levels for name in shot.art_files(level)})
    # The art of the shot is looked at beside a scene too: what a level was built with is compared with it.
    files = [shot.folder / name for name in art] + ([scene] if scene else [])
    contents = [f"{path.name} {file_digest(path)}" for path in files]
    return job_key(fingerprint(shot), contents=contents, makers=makes)
