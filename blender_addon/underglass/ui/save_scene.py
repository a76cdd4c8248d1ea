# SPDX-License-Identifier: GPL-3.0-or-later
"""What Save would write of a scene as it stands, and the writing of it: nothing goes before all of it is planned.

The panels ask the same question as Save does, so that they say the same.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..plan import Plan, make_plan
from ..proof.wording import listed
from ..revise.plan_differences import differences
from ..revise.revised_shot import Revised, revised_shot
from ..revise.shifted_shot import cut_short, going, left_out, shifted, whole_frames
from ..revise.stand_readings import over_frames, standing_of
from ..shot import Shot, ShotError, UnderglassError
from ..shot.files.save import texts_to_save, write_amended
from ..shot.files.stamp import stamp
from ..shot.words import first_of, number_text
from ..stage import read_aside, shift_keys, stack_marks
from . import find_files, held_levels, live_stack, scene_remarks, shot_snapshots, typed_lens
from .touched_words import said_of_the_scene

# What there is to do where Save refuses, or would leave something out.
SHIFT, FRAMES, CUT, COPY, KEYS = "shift", "frames", "cut", "copy", "keys"
_FEW = 3


class RefusedError(UnderglassError):
    """Save would not write this scene: why, in a line, and what is offered in its place.

    ``whole`` are the frames that would leave nothing out.
    """

    def __init__(self, said: str, *offers: str, whole: tuple[int, int] | None = None) -> None:
        self.offers, self.whole = offers, whole
        super().__init__(said)


@dataclass(frozen=True)
class Intended:
    """What Save would write: the shot that its texts are amended from, the shot as the scene has it, and its plan.

    ``amended`` are the texts of the files that would change. The shot of the plan is what they would be read as.
    ``changed`` says in words what differs from the files on disk, ``dropped`` which moves its frames leave out.
    ``here`` is what hangs on the present frame and lasts no longer than that: panels ask for it anew.
    ``offers`` is what may be done about the remarks, ``whole`` the frames that would leave nothing out.
    """

    base: Shot
    amended: Mapping[Path, str]
    revised: Revised
    plan: Plan
    changed: tuple[str, ...]
    remarks: tuple[str, ...]
    dropped: tuple[str, ...] = ()
    offers: tuple[str, ...] = ()
    whole: tuple[int, int] | None = None
    here: tuple[str, ...] = ()


def revised(scene: Any, *, to_counter: bool = False, cut: bool = False) -> tuple[Shot, Mapping[Path, str], Revised]:
    """Return the shot that ``scene`` was built from, its texts, and the shot that it is now; evaluates every frame.

    Raises RefusedError where moves would be lost that are not to be ``cut``, and ShotError for what no stand can do.
    """
    if scene.camera is None:
        raise ShotError(live_stack.shot_and_plan(scene)[0].place("camera"), "the scene has no camera", _CAMERA_REMEDY)
    if stack_marks.stand_camera(scene) is None:
        raise RefusedError(_camera_trouble(scene), COPY)
    snapshot = live_stack.snapshot_of(scene)
    shot, plan = live_stack.shot_and_plan(scene)
    base = shifted(shot, scene.underglass.shifted)
    plan = plan if base is shot else make_plan(base)
    frames = scene.frame_start, scene.frame_end
    lost = () if cut or frames == base.frames else left_out(base, frames)
    if lost:
        raise _range_refused(base, frames, lost)
    plan = over_frames(base, plan, frames=frames)
    reading = read_aside.read_aside(scene, range(frames[0], frames[1] + 1))
    now = revised_shot(base, plan=plan, standing=standing_of(plan, reading=reading), to_counter=to_counter)
    return snapshot.shot, snapshot.texts, now


_CAMERA_REMEDY = "make the stand camera the scene's camera"


def _camera_trouble(scene: Any) -> str:
    many = len(stack_marks.cameras(scene))
    if many:
        return f"{many} cameras say that they are the stand's; delete the copies, or make one the scene's camera"
    return "the stand's camera is not in the scene; undo, or reload the shot"


def _range_refused(base: Shot, frames: tuple[int, int], lost: tuple[str, ...]) -> RefusedError:
    """Return what is said where ``frames`` leave out moves; to shift them helps where the first frame is another."""
    whole = whole_frames(base, frames)
    shifts = frames[0] != base.frames[0]
    ways = [*(["shift the moves along"] if shifts else []), f"give frames {whole[0]}–{whole[1]} back"]
    without = f"save without {'it' if len(lost) == 1 else 'them'}"
    said = f"frames {frames[0]}–{frames[1]} leave out {first_of(lost, _FEW)}; {', '.join(ways)}, or {without}"
    return RefusedError(said, *([SHIFT] if shifts else []), FRAMES, CUT, whole=whole)


def frames_left_out(scene: Any) -> tuple[tuple[str, ...], tuple[int, int]]:
    """Return which moves the frames of ``scene`` leave out, in words, and the frames that would leave nothing out."""
    base = shifted(live_stack.shot_and_plan(scene)[0], scene.underglass.shifted)
    frames = scene.frame_start, scene.frame_end
    return left_out(base, frames), whole_frames(base, frames)


def intended(scene: Any, *, cut: bool = False) -> Intended:
    """Return what Save would write of ``scene``; raises RefusedError where it would write nothing, and says why."""
    path = live_stack.shot_path(scene)
    assert path is not None
    require_ours(scene, path)
    try:
        base, texts, now = revised(scene, to_counter=scene.underglass.to_counter, cut=cut)
        plans: list[Plan] = []
        amended = texts_to_save(base, now.shot, texts=texts, check=lambda shot: plans.append(make_plan(shot)))
    except ShotError as error:
        raise RefusedError(said_of_the_scene(error), COPY) from error
    on_disk = shot_snapshots.of(path, stamp(path)) or live_stack.snapshot_of(scene)
    redrawn = live_stack.redrawn(scene)
    was = live_stack.shot_and_plan(scene)[1] if redrawn else on_disk.plan
    changed = tuple(dict.fromkeys((*redrawn, *differences(was, plans[0]))))
    whole = shifted(live_stack.shot_and_plan(scene)[0], scene.underglass.shifted)
    dropped = left_out(whole, now.shot.frames) if now.shot.frames != whole.frames else ()
    cut_off, between = going(whole, now.shot.frames), _between(scene, now.shot)
    remarks = (*now.remarks, *cut_short(whole, now.shot), *cut_off, *between, *_remarks(scene))
    offers = (*([FRAMES] if cut_off else []), *([KEYS] if between else []))
    all_of_it = whole_frames(whole, now.shot.frames) if cut_off else None
    return Intended(
        base, amended, now, plans[0], changed, remarks, dropped, offers, all_of_it, scene_remarks.here(scene)
    )


def _between(scene: Any, shot: Shot) -> list[str]:
    """Return which columns of the chart of ``shot`` come of keys that stand between two frames, a line each."""
    sheet = shot.chart_file or "chart.csv"
    return [
        f"{part} {axis} is keyed between frames, on {listed([number_text(one, digits=4) for one in frames])}:"
        f" it goes frame by frame in {sheet}"
        for (part, axis), frames in shift_keys.keys_between(scene).items()
        if (part, axis) in shot.chart.columns
    ]


def require_ours(scene: Any, path: Path) -> None:
    """Raise RefusedError where the files are not as this scene has read or written them."""
    if not path.is_file():
        raise RefusedError(f"{path}: {find_files.GONE}")
    state = stamp(path)
    if state != scene.underglass.stamp and not shot_snapshots.is_of(scene, state):
        names = find_files.changed(scene, path)
        if len(names) == 1:
            said = f"{path.parent / names[0]}: was changed on disk since it was read; reload it"
        else:
            said = f"{first_of(names, _FEW)} of {path.parent}: were changed on disk since they were read; reload them"
        raise RefusedError(f"{said}, or save the shot elsewhere", COPY)


def _remarks(scene: Any) -> list[str]:
    """Return what of the scene is not what is saved, and stays as it is."""
    found = [f"{line}: it is not saved" for line in typed_lens.lines(scene)]
    found += scene_remarks.moving_paints(scene)
    return [*found, *live_stack.unkeyed(scene)]


def save(scene: Any, *, cut: bool = False) -> Intended:
    """Write ``scene`` into the files of its shot and return what was written, held levels keyed as that asks for.

    Raises RefusedError where it cannot be planned, ShotError where a file cannot be written; the files stay then.
    """
    path = live_stack.shot_path(scene)
    assert path is not None
    state = stamp(path)
    now = intended(scene, cut=cut)
    for _ in range(held_levels.TURNS):
        # a lens that focus takes along has moved by what is read here: what is written is what the scene then has
        if not held_levels.followed(scene, now.plan):
            break
        now = intended(scene, cut=cut)
    write_amended(now.base, now.revised.shot, now.amended, expected=state)
    return now
