"""The stack as it stands this moment: its plan by the keys in the scene, worked out when someone asks.

Nothing is kept but what can be had again: a cache that edits, undo and other files empty.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import bpy
import numpy as np

from ..plan import Plan, make_plan
from ..plan.field import field_corners
from ..plan.findings import Finding, find
from ..plan.findings.sight import edge_reach, look
from ..plan.model import Floats
from ..plan.ordering import in_order
from ..shot import CAMERA, Shot, UnderglassError, read_shot
from ..shot.stamp import stamp
from ..stage import hold, marks, sampling
from . import draft
from .finding_groups import Group, groups_of
from .touched import said_of_the_scene
from .words import Words, words_of

# Less than this is what single precision and the sampling of curves make of an axis, m or radians.
UNSAVED = 2e-6


@dataclass(frozen=True)
class Live:
    """A stack this moment: ``unsaved`` names the axes that are not as the files have them.

    ``held`` says of each level that is in the scene whether its apparent size is held. ``plan`` is None and ``trouble``
    one line where no plan can be made of it.
    """

    shot: Shot
    plan: Plan | None
    findings: tuple[Finding, ...]
    corners: Floats | None
    reach: dict[str, Floats]
    unsaved: tuple[str, ...] = ()
    held: Mapping[str, bool] = field(default_factory=dict)
    hidden: frozenset[str] = frozenset()
    trouble: str = ""

    @cached_property
    def words(self) -> Words:
        """What the panels write of it; there has to be a plan."""
        assert self.plan is not None
        return words_of(self.plan, self.reach)

    @cached_property
    def groups(self) -> tuple[Group, ...]:
        """Its findings by kind, as the panels tell them."""
        return groups_of(self.findings)


@dataclass
class _Kept:
    """What is known of one scene: the shot that it is to be, its plan, and the moment that was worked out.

    ``on_disk`` is the shot as its files have it: another one where the scene has a draft.
    """

    stamp: str
    shot: Shot
    planned: Plan
    on_disk: Shot
    live: Live | None = None
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
    return Path(bpy.path.abspath(said)) if said else None


def shot_and_plan(scene: Any) -> tuple[Shot, Plan]:
    """Return the shot that ``scene`` was built from and its plan; raises UnderglassError where it cannot be read."""
    kept = _of(scene)
    return kept.shot, kept.planned


def shot_on_disk(scene: Any) -> Shot:
    """Return the shot of ``scene`` as its files have it, whatever draft there is; UnderglassError as above."""
    return _of(scene).on_disk


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
        kept.live = _worked_out(scene, kept)
    return kept.live


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
    _kept[scene.as_pointer()] = _Kept(scene.underglass.stamp, shot, plan, shot)


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
    if kept is None or kept.stamp != settings.stamp:
        path = shot_path(scene)
        if path is None:
            raise UnderglassError("this scene has no shot; open one first")
        read = read_shot(path)
        shot = draft.shot_of(scene, read)
        kept = _kept[key] = _Kept(settings.stamp, shot, make_plan(shot), read)
        _failures.pop(key, None)
    return kept


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
    tracks, by_hand = sampling.sampled_tracks(scene, kept.planned)
    kept.by_hand_on = scene.frame_current if by_hand else None
    try:
        shot, tracks = in_order(sampling.resized(scene, kept.shot), tracks)
        plan = make_plan(shot, tracks=tracks)
    except UnderglassError as error:
        return Live(kept.shot, None, (), None, {}, trouble=said_of_the_scene(error))
    sight = look(plan)
    findings = find(plan, sight=sight)
    redrawn = draft.changes(kept.on_disk, kept.shot) if kept.shot is not kept.on_disk else ()
    unsaved = (*redrawn, *_unsaved(plan, kept.planned))
    held = {name: hold.is_held(glass) for name, glass in marks.levels(scene)}
    hidden = frozenset(_hidden(scene))
    return Live(shot, plan, findings, field_corners(plan), edge_reach(plan, sight), unsaved, held, hidden)


def _unsaved(now: Plan, planned: Plan) -> tuple[str, ...]:
    """Return the axes that are not as planned, beyond what single precision makes of a number."""
    found = [
        f"{CAMERA} {axis}"
        for axis, track in planned.tracks.camera.items()
        if np.abs(track - now.tracks.camera[axis]).max() > UNSAVED
    ]
    for name in planned.names:
        here, there = now.names.index(name), planned.names.index(name)
        for axis, tracks in planned.tracks.levels.items():
            if np.abs(tracks[:, there] - now.tracks.levels[axis][:, here]).max() > UNSAVED:
                found.append(f"{name} {axis}")
        if now.shot.levels[here].art_width != planned.shot.levels[there].art_width:
            found.append(f"{name} art width")
    return tuple(found)


def _hidden(scene: Any) -> list[str]:
    """Return the levels that the present view of ``scene`` does not show."""
    context = bpy.context
    layer = context.view_layer if context.scene == scene else scene.view_layers[0]
    return [name for name, glass in marks.levels(scene) if glass.hide_get(view_layer=layer)]


def row_of(plan: Plan, frame: int) -> int:
    """Return the row of ``frame`` in the arrays of ``plan``, the nearest where it lies outside of the shot."""
    first, last = plan.shot.frames
    return min(max(frame, first), last) - first


def glass_of(scene: Any, level: str) -> Any:
    """Return the object of ``level``, None where it is not in the scene."""
    return next((glass for name, glass in marks.levels(scene) if name == level), None)
