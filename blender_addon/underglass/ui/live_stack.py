# SPDX-License-Identifier: GPL-3.0-or-later
"""The stack as it stands this moment: its plan by the keys in the scene, worked out when someone asks.

What Save would write is worked out once the artist rests (`read_at_rest`), and takes its place. Nothing is kept but
what can be had again: a cache that edits, undo and other files empty.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import Any

import bpy
import numpy as np

from ..plan import Plan, make_plan
from ..plan.field_of_levels import field_corners
from ..plan.findings import Finding, find
from ..plan.findings.seen_art import edge_reach, look
from ..plan.plan_arrays import Floats, Tracks
from ..plan.said_lens import with_lens
from ..plan.stack_order import in_order
from ..revise.called import called_now
from ..revise.stand_readings import over_frames
from ..shot import CAMERA, Shot, UnderglassError
from ..shot.files import read_shot
from ..shot.files.stamp import stamp
from ..stage import hold_size, sampled_keys, stack_marks
from . import draft_shot, find_files, shot_snapshots
from .finding_groups import Group, groups_of
from .panel_words import Words, words_of
from .touched_words import said_of_the_scene

# Less than this is what single precision and the sampling of curves make of an axis, m or radians.
UNSAVED = 2e-6


@dataclass(frozen=True)
class Live:
    """A stack this moment: ``unsaved`` names what is not as the files have it.

    ``held`` says of each level that is in the scene whether its apparent size is held. ``trouble`` is one line where no
    plan can be made of it, or Save would refuse it; the plan is then the last that there was. ``offers`` is what there
    is to do about it, or about ``remarks``, and ``whole`` the frames that would leave out nothing that moves.
    ``settled`` once all is as Save would have it, to the last bit.
    """

    shot: Shot
    plan: Plan
    findings: tuple[Finding, ...]
    corners: Floats | None
    reach: dict[str, Floats]
    unsaved: tuple[str, ...] = ()
    held: Mapping[str, bool] = field(default_factory=dict)
    hidden: frozenset[str] = frozenset()
    trouble: str = ""
    offers: tuple[str, ...] = ()
    whole: tuple[int, int] | None = None
    remarks: tuple[str, ...] = ()
    settled: bool = False

    @cached_property
    def words(self) -> Words:
        """What the panels write of it."""
        return words_of(self.plan, self.reach)

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """Its findings by kind, as the panels tell them."""
        return groups_of(self.findings)


@dataclass
class _Kept:
    """What is known of one scene: the shot that it is to be, its plan, and the moment that was worked out.

    ``snapshot`` has the shot as its files say it: another one where the scene has a draft. ``path`` is the shot file.
    """

    stamp: str
    path: Path
    snapshot: shot_snapshots.Snapshot
    shot: Shot
    planned: Plan
    live: Live | None = None
    settled: Live | None = None
    by_hand_on: int | None = None


@dataclass(frozen=True)
class _Failure:
    """Why the shot of a scene cannot be read: ``said`` of the file, by the stamps of the scene and of the files."""

    shot_file: str
    stamp: str
    on_disk: str
    said: str


_kept: dict[int, _Kept] = {}
_failures: dict[int, _Failure] = {}


def shot_path(scene: Any) -> Path | None:
    """Return the shot file of ``scene``, None where it has none."""
    said = scene.underglass.shot_file
    return find_files.of(scene, Path(bpy.path.abspath(said))) if said else None


def shot_and_plan(scene: Any) -> tuple[Shot, Plan]:
    """Return the shot that ``scene`` was built from and its plan; raises UnderglassError where it cannot be read."""
    kept = _of(scene)
    return kept.shot, kept.planned


def snapshot_of(scene: Any) -> shot_snapshots.Snapshot:
    """Return the shot that ``scene`` was built from with its texts; raises UnderglassError where it cannot be read."""
    return _of(scene).snapshot


def shot_on_disk(scene: Any) -> Shot:
    """Return the shot of ``scene`` as its files have it, whatever draft there is; UnderglassError as above."""
    return _of(scene).snapshot.shot


def live(scene: Any) -> Live | None:
    """Return the stack of ``scene`` this moment, None where it has no shot or the shot cannot be read."""
    settings = scene.underglass
    if not settings.shot_file:
        return None
    kept = _kept.get(scene.as_pointer())
    if kept is None or kept.stamp != settings.stamp:
        kept = _read_once(scene)
        if kept is None:
            return None
    if kept.by_hand_on is not None and kept.by_hand_on != scene.frame_current:
        kept.live = None
    if kept.live is None:
        # what moves by other things than its keys cannot be told before the artist rests
        stays = kept.settled is not None and sampled_keys.is_pulled(scene)
        kept.live = replace(kept.settled, settled=False) if stays else _worked_out(scene, kept)
        kept.by_hand_on = None if stays else kept.by_hand_on
    return kept.live


def is_settled(scene: Any) -> bool:
    """Return whether what is known of ``scene`` is what Save would write; so is a scene of which nobody asked."""
    kept = _kept.get(scene.as_pointer())
    return kept is None or kept.live is None or kept.live.settled


def settle(scene: Any, now: Live) -> None:
    """Have ``now`` be what is known of ``scene`` until something of it is touched."""
    kept = _of(scene)
    kept.live, kept.settled, kept.by_hand_on = now, now, None


def seen(scene: Any, plan: Plan, **said: Any) -> Live:
    """Return a moment of which ``plan`` is the plan; ``said`` are further fields of it."""
    sight = look(plan)
    held = {name: hold_size.is_held(glass) for name, glass in stack_marks.levels(scene)}
    reach = edge_reach(plan, sight)
    hidden = frozenset(_hidden(scene))
    return Live(plan.shot, plan, find(plan, sight=sight), field_corners(plan), reach, held=held, hidden=hidden, **said)


def trouble(scene: Any) -> str:
    """Return the line that says why the shot of ``scene`` cannot be read, empty where it can."""
    failure = _failures.get(scene.as_pointer())
    return failure.said if failure is not None else ""


def notice(scene: Any, on_disk: str) -> bool:
    """Have a shot that could not be read tried again where its files are in another state now; return whether so."""
    failure = _failures.get(scene.as_pointer())
    if failure is None or failure.on_disk == on_disk:
        return False
    del _failures[scene.as_pointer()]
    return True


def keep(scene: Any, shot: Shot, plan: Plan) -> None:
    """Keep the shot that ``scene`` was just built from and its plan, so that they are not read again."""
    forget(scene)
    path, state = shot_path(scene), scene.underglass.stamp
    assert path is not None
    there = shot_snapshots.keep(path, state, shot=shot, plan=plan)
    _kept[scene.as_pointer()] = _Kept(state, path, there, shot, plan)


def forget(scene: Any = None) -> None:
    """Forget what was worked out, of one scene or of all: files were read anew, or undo went back."""
    if scene is None:
        _kept.clear()
        _failures.clear()
        return
    _kept.pop(scene.as_pointer(), None)
    _failures.pop(scene.as_pointer(), None)


def is_by_hand(scene: Any) -> bool:
    """Return whether the hand has moved something off its keys on the present frame, and not keyed it."""
    kept = _kept.get(scene.as_pointer())
    return kept is not None and kept.by_hand_on is not None


def refresh(scene: Any) -> None:
    """Have the stack of ``scene`` worked out anew when it is next asked for."""
    kept = _kept.get(scene.as_pointer())
    if kept is not None:
        kept.live = None


def _of(scene: Any) -> _Kept:
    """Return what is known of ``scene``, reading its shot where that was not done since it was last stamped."""
    key, settings = scene.as_pointer(), scene.underglass
    kept = _kept.get(key)
    if kept is None or kept.stamp != settings.stamp or _is_elsewhere(scene, kept):
        path = shot_path(scene)
        if path is None:
            raise UnderglassError("this scene has no shot; open one first")
        there = shot_snapshots.of(path, settings.stamp)
        if there is None:
            read = read_shot(path)
            there = shot_snapshots.keep(path, stamp(path), shot=read, plan=make_plan(read))
        shot = draft_shot.shot_of(scene, there.shot)
        planned = there.plan if shot is there.shot else make_plan(shot)
        kept = _kept[key] = _Kept(settings.stamp, path, there, shot, planned)
        _failures.pop(key, None)
    return kept


def _is_elsewhere(scene: Any, kept: _Kept) -> bool:
    """Return whether the shot file of ``scene`` went, and is found in another folder now."""
    return not kept.path.is_file() and shot_path(scene) != kept.path


def _read_once(scene: Any) -> _Kept | None:
    """Return what is known of ``scene``; a shot that cannot be read is not tried again before its files change."""
    key, settings = scene.as_pointer(), scene.underglass
    failure = _failures.get(key)
    if failure is not None and (failure.shot_file, failure.stamp) == (settings.shot_file, settings.stamp):
        return None
    path = shot_path(scene)
    on_disk = stamp(path) if path is not None else ""
    try:
        return _of(scene)
    except UnderglassError as error:
        _failures[key] = _Failure(settings.shot_file, settings.stamp, on_disk, str(error))
        return None


def _worked_out(scene: Any, kept: _Kept) -> Live:
    base = kept.planned
    frames = (scene.frame_start, max(scene.frame_end, scene.frame_start))
    planned = over_frames(base.shot, base, frames=frames)
    tracks, by_hand = sampled_keys.sampled_tracks(scene, planned)
    kept.by_hand_on = scene.frame_current if by_hand else None
    try:
        plan = _planned_of(scene, planned, tracks)
        # what the hand holds and has not keyed is shown, and not saved
        keyed = (
            _planned_of(scene, planned, sampled_keys.sampled_tracks(scene, planned, keyed=True)[0]) if by_hand else plan
        )
    except UnderglassError as error:
        # the panels stay: what they show is the last that could be planned
        last = kept.settled.plan if kept.settled is not None else base
        return seen(scene, last, trouble=said_of_the_scene(error), unsaved=("what cannot be planned",))
    gone = [name for name in planned.names if name not in dict(stack_marks.levels(scene))]
    unsaved = (*redrawn(scene), *apart(keyed, base), *(f"{name} removed" for name in gone))
    if not by_hand:
        return seen(scene, plan, unsaved=unsaved)
    return replace(
        seen(scene, plan, unsaved=unsaved, remarks=tuple(unkeyed(scene))), findings=find(keyed, sight=look(keyed))
    )


def _planned_of(scene: Any, planned: Plan, tracks: Tracks) -> Plan:
    """Return the plan of ``tracks`` with the sizes and the lens that ``scene`` has now; UnderglassError without one."""
    shot, tracks = in_order(sampled_keys.resized(scene, planned.shot), tracks)
    shot, tracks = with_lens(shot, tracks, sampled_keys.said_lens_now(scene, planned))
    return make_plan(shot, tracks=tracks)


def unkeyed(scene: Any) -> list[str]:
    """Return what of ``scene`` the hand holds off its keys on the present frame, a line each."""
    return [
        f"{name} was moved by hand and not keyed: its keys are saved, not where it is now"
        for name in sampled_keys.unkeyed(scene, shot_and_plan(scene)[1])
    ]


def redrawn(scene: Any) -> tuple[str, ...]:
    """Return in words what the draft of ``scene`` has otherwise than its files; nothing where there is no draft."""
    kept = _of(scene)
    return () if kept.shot is kept.snapshot.shot else draft_shot.changes(kept.snapshot.shot, kept.shot)


def apart(now: Plan, base: Plan) -> tuple[str, ...]:
    """Return what ``now`` has otherwise than ``base``, beyond what single precision makes of a number."""
    planned = over_frames(base.shot, base, frames=now.shot.frames)
    called = called_now(base.shot, now.shot)
    found = [
        f"{CAMERA} {axis}"
        for axis, track in planned.tracks.camera.items()
        if np.abs(track - now.tracks.camera[axis]).max() > UNSAVED
    ]
    for name in planned.names:
        if name not in called:
            found.append(f"{name} removed")
            continue
        here, there = now.names.index(called[name]), planned.names.index(name)
        found += [f"{name} is called {called[name]}"] if called[name] != name else []
        for axis, tracks in planned.tracks.levels.items():
            if np.abs(tracks[:, there] - now.tracks.levels[axis][:, here]).max() > UNSAVED:
                found.append(f"{called[name]} {axis}")
        width, was = (shot.levels[at].art_width for shot, at in ((now.shot, here), (planned.shot, there)))
        found += [f"{called[name]} art width"] if abs(width - was) > UNSAVED else []
    focus = replace(base.shot.camera.focus, level=called.get(base.shot.camera.focus.level, ""))
    pairs = {
        "focus": (now.shot.camera.focus, focus),
        "gate": (now.shot.camera.gate, base.shot.camera.gate),
    }
    found += [name for name, (here, was) in pairs.items() if here != was]
    found += ["f-stop"] if now.shot.camera.f_stop != base.shot.camera.f_stop else []
    found += ["frames"] if now.shot.frames != base.shot.frames else []
    return tuple(found)


def shown_layer(scene: Any) -> Any:
    """Return the view layer of ``scene`` that is on screen, its first where another scene is."""
    context = bpy.context
    return context.view_layer if context.scene == scene else scene.view_layers[0]


def _hidden(scene: Any) -> list[str]:
    """Return the levels that the present view of ``scene`` does not show."""
    layer = shown_layer(scene)
    return [name for name, glass in stack_marks.levels(scene) if glass.hide_get(view_layer=layer)]


def row_of(plan: Plan, frame: int) -> int:
    """Return the row of ``frame`` in the arrays of ``plan``, the nearest where it lies outside of the shot."""
    first, last = plan.shot.frames
    return min(max(frame, first), last) - first


def glass_of(scene: Any, level: str) -> Any:
    """Return the object of ``level``, None where it is not in the scene."""
    return next((glass for name, glass in stack_marks.levels(scene) if name == level), None)
