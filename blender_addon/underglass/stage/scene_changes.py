# SPDX-License-Identifier: GPL-3.0-or-later
"""Changes: in what a scene differs from the stack built afresh from its shot, and what each difference shows.

What differs is found by comparing all properties; what it shows is told by small pictures of the fresh stack with that
difference laid on it, so that nothing else that is wrong with the scene has a part in it.
"""

from collections.abc import Iterator, Sequence
from contextlib import AbstractContextManager, ExitStack
from dataclasses import dataclass, replace
from typing import Any

import bpy

from .. import blender_versions
from ..plan.plan_arrays import Plan
from ..proof.audit import differences_that_show
from ..proof.audit.changed_properties import DRIVEN, IN_MOTION, KEYED, NOISE
from ..proof.audit.obstacles import Box, in_view
from ..proof.choose_frames import fastest_frame
from ..proof.verdict.judge_levels import levels_in_place
from ..reading.paint_facts import looks as looks_of
from ..reading.scene_reading import NOT_RENDERED, Change, SceneReading
from . import (
    camera_cuts,
    fresh_stack,
    harmless_properties,
    lay_property,
    level_make_up,
    materials,
    other_things,
    stack_marks,
    thing_pictures,
)
from .moving_blocks import MOST_FRAMES, extremes_of, how_moved, moves, spread
from .rna_properties import Property, differing, properties

# The words of the interface for where a property stands, by the type of its owner in RNA.
_PLACES = {
    "RenderSettings": "Render",
    "CyclesRenderSettings": "Render",
    "SceneEEVEE": "Render",
    "ColorManagedViewSettings": "Color Management",
    "ColorManagedDisplaySettings": "Color Management",
    "CurveMapping": "Color Management › Use Curves",
    "CurveMap": "Color Management › Use Curves",
    "CurveMapPoint": "Color Management › Use Curves",
    "ImageFormatSettings": "Output",
    "ViewLayer": "View Layer",
    "CyclesRenderLayerSettings": "View Layer",
    "CyclesObjectSettings": "Object",
    "CyclesMaterialSettings": "Material",
    "CameraDOFSettings": "Depth of Field",
}
COLOUR = "colour"
SETTING = "setting"
# Pictures of the fresh stack are so wide at the most.
WIDTH = 320
# Of scenes that are not sampled alike all samples count, and fewer pixels have to do.
WIDTH_OF_SAMPLING = 160
FEW_FRAMES = 4


def changes_of(
    scene: Any,
    plan: Plan,
    *,
    looks: Sequence[int],
    seen: dict[str, dict[int, Box]],
    in_place: frozenset[str] = frozenset(),
) -> "Compared":
    """Return in what ``scene``, the open one, differs from the stack of ``plan``.

    ``looks`` are frames on which to look; ``seen`` names things that are no levels and on which frames they can be in
    the picture; the levels ``in_place`` are where they were planned. Which frame is open is as before afterwards.
    """
    open_frame = scene.frame_current
    try:
        with fresh_stack.afresh(plan) as stack:
            return _Comparing(stack, plan, looks, seen, in_place).compared()
    finally:
        scene.frame_set(open_frame)


def with_changes(scene: Any, plan: Plan, reading: SceneReading, *, looks: Sequence[int]) -> SceneReading:
    """Return ``reading`` with in what ``scene``, as it was opened, differs from the stack of ``plan``."""
    found = changes_of(
        scene, plan, looks=looks, seen=in_view(plan, reading=reading), in_place=levels_in_place(plan, reading=reading)
    )
    return replace(reading, paints=found.paints, changes=found.changes)


@dataclass(frozen=True)
class Compared:
    """What was found: ``paints`` as they would be built now, by level, and the changes."""

    paints: dict[str, tuple[str, ...]]
    changes: tuple[Change, ...]


class _Comparing:
    """The open scene beside its fresh stack."""

    def __init__(
        self, stack: Any, plan: Plan, looks: Sequence[int], seen: dict[str, dict[int, Box]], in_place: frozenset[str]
    ) -> None:
        scene = bpy.context.scene
        self._scene, self._layer, self._stack = scene, bpy.context.view_layer, stack
        self._seen, self._in_place = seen, in_place
        self._here = dict(reversed(stack_marks.levels(scene)))
        self._fresh = dict(stack_marks.levels(stack))
        first, last = int(plan.frames[0]), int(plan.frames[-1])
        self._few = sorted({first, last, *spread(looks, FEW_FRAMES)})
        self._all, self._looks = range(first, last + 1), sorted(looks)
        self._fastest = fastest_frame(plan)
        self._frame_px = plan.shot.camera.frame_px

    def compared(self) -> Compared:
        paints = {name: _signature(obj) for name, obj in self._fresh.items()}
        level_make_up.take_values(self._scene, self._stack)
        settings = [*self._settings(), *self._compositor(), *self._world(), *self._layers()]
        noise = [change for change in settings if change.kind == NOISE]
        settings = [change for change in settings if change.kind != NOISE]
        for change in noise:
            # Pictures of both have the same noise then.
            lay_property.lay_on(self._stack, self._scene, change)
        levels = {name: [*self._level(name, paints[name])] for name in self._fresh if name in self._here}
        levels = {name: found for name, found in levels.items() if found}
        camera = [*self._camera()]
        if not settings and not levels and not camera and not self._seen:
            return Compared(paints, tuple(noise))
        return Compared(paints, (*noise, *self._told(settings, levels, camera)))

    # --- what differs

    def _settings(self) -> Iterator[Change]:
        """Yield what differs in the scene's own settings; where keys or drivers act, on any of many frames."""
        if self._scene.cycles.sampling_pattern in fresh_stack.USUAL_PATTERNS:
            self._stack.cycles.sampling_pattern = self._scene.cycles.sampling_pattern
        built, moving = properties(self._stack, harmless_properties.left_out), how_moved(self._scene)
        found: dict[str, Change] = {}
        for frame in self._frames_of(self._scene) if moves(self._scene) else (None,):
            if frame is not None:
                self._scene.frame_set(frame)
            here = properties(self._scene, harmless_properties.left_out)
            for path, pair in differing(here, built).items():
                if path.startswith("cycles.") and self._scene.render.engine != "CYCLES":
                    continue
                kind = NOISE if harmless_properties.makes_noise(pair[0].owner, pair[0].key) else SETTING
                change = _setting("scene", path, *pair, kind=kind)
                found.setdefault(path, replace(change, here=moving.get(path, change.here)))
        yield from found.values()

    def _layers(self) -> Iterator[Change]:
        """Yield what differs in the view layer that is rendered."""
        built = properties(self._stack.view_layers[0], harmless_properties.left_out)
        here = properties(self._layer, harmless_properties.left_out)
        for path, pair in differing(here, built).items():
            yield _setting("scene", path, *pair, kind="layer")
        rendered = sum(layer.use for layer in self._scene.view_layers)
        if rendered != 1:
            yield Change("scene", "layers", "ViewLayer.use", "View Layers › Use for Rendering", str(rendered), "1")

    def _compositor(self) -> Iterator[Change]:
        if self._scene.render.use_compositing and blender_versions.has_compositor(self._scene):
            yield Change("scene", "compositor", "Scene.compositor", "Compositor", "on", "none")

    def _world(self) -> Iterator[Change]:
        world = self._layer.world_override or self._scene.world
        if other_things.has_volume(world):
            yield Change("scene", "world", "World.volume", "World › Volume", world.name, "none")

    def _level(self, name: str, wanted: tuple[str, ...]) -> Iterator[Change]:
        here, fresh = self._here[name], self._fresh[name]
        found = differing(
            properties(here, harmless_properties.left_out), properties(fresh, harmless_properties.left_out)
        )
        for path, pair in found.items():
            yield _setting(name, path, *pair, kind="object")
        # Without a picture of its own it is called that.
        if looks_of(_signature(here)) != looks_of(wanted):
            yield Change(name, "material", "Material.node_tree", "Material", "", "")
        worn, paint = _worn(here), _worn(fresh)
        if worn is not None and paint is not None:
            pair_of = differing(
                properties(worn, harmless_properties.left_out), properties(paint, harmless_properties.left_out)
            )
            for path, pair in pair_of.items():
                yield _setting(name, path, *pair, kind="material-setting")
        yield from level_make_up.remade(name, here)

    def _camera(self) -> Iterator[Change]:
        """Yield what differs in the camera beside what is read of it on every frame."""
        here, built = camera_cuts.shot_camera(self._scene), self._stack.camera
        if here is None or here.type != "CAMERA":
            return
        found = differing(
            properties(here.data, harmless_properties.left_out), properties(built.data, harmless_properties.left_out)
        )
        for path, pair in found.items():
            yield _setting("camera", path, *pair, kind="camera")

    def _frames_of(self, *blocks: Any) -> list[int]:
        """Return frames on which what moves ``blocks`` shows: where its curves are highest and lowest, and more."""
        moving = [block for block in blocks if moves(block)]
        if not moving:
            return self._few
        extremes = {frame for block in moving for frame in extremes_of(block, self._all)}
        return sorted({*self._few, *spread(sorted(extremes), MOST_FRAMES), *spread(self._all, MOST_FRAMES)})

    # --- what it shows

    def _told(self, settings: list[Change], levels: dict[str, list[Change]], camera: list[Change]) -> Iterator[Change]:
        alike = not any(lay_property.is_sampling(change) for change in settings)
        with fresh_stack.stills_folder() as folder:
            stills = fresh_stack.Stills(self._scene, folder, width=WIDTH if alike else WIDTH_OF_SAMPLING, alike=alike)
            base = fresh_stack.Base(stills, self._stack)
            groups = bool(settings) + len(levels) + bool(camera)
            shown = self._all_on(base, settings, levels, camera) if groups > 1 else None
            if shown is not None and differences_that_show.is_quiet(shown):
                every = [*settings, *(one for found in levels.values() for one in found), *camera]
                yield from (replace(change, shown=shown[0], frame=shown[1]) for change in every)
            else:
                yield from _together(list(self._told_alone(base, settings, levels, camera)), shown)
            yield from thing_pictures.ThingPictures(
                self._scene, self._layer, self._stack, self._seen, self._all, self._frame_px
            ).told(base)

    def _told_alone(
        self, base: fresh_stack.Base, settings: list[Change], levels: dict[str, list[Change]], camera: list[Change]
    ) -> Iterator[Change]:
        if settings:
            yield from self._told_settings(base, settings)
        yield from self._told_levels(base, levels)
        for change in camera:
            yield self._told_of_camera(base, change)

    def _all_on(
        self, base: fresh_stack.Base, settings: list[Change], levels: dict[str, list[Change]], camera: list[Change]
    ) -> differences_that_show.Shown:
        """Return what all that differs shows together; most often that is nothing, and no more pictures are needed."""
        if lay_property.runs_scripts(self._scene):
            return NOT_RENDERED, 0
        paints = [block for name in levels for block in self._wear(name)]
        frames = self._frames_of_settings(settings, *paints)
        base.measure(frames)
        here, fresh = camera_cuts.shot_camera(self._scene), self._stack.camera.data
        kept = [
            (change, lay_property.value_of(fresh, change)) for change in camera if lay_property.can_be_laid_on(change)
        ]
        if len(kept) < len(camera):
            return NOT_RENDERED, 0
        with ExitStack() as dressed:
            for name, found in levels.items():
                dressed.enter_context(self._dressed(name, found))
            for change, value in kept:
                dressed.callback(lay_property.set_value, fresh, change, value)
                lay_property.lay_on(fresh, here.data, change)
            if not settings:
                return base.against_itself(frames)
            return base.against(fresh_stack.with_settings_of(self._scene, self._stack), frames)

    def _told_levels(self, base: fresh_stack.Base, levels: dict[str, list[Change]]) -> Iterator[Change]:
        names = list(levels)
        frames = self._frames_of(*(block for name in names for block in self._wear(name)))
        base.measure(frames if names else ())

        def show(some: Sequence[str]) -> differences_that_show.Shown:
            with ExitStack() as dressed:
                for name in some:
                    dressed.enter_context(self._dressed(name, levels[name]))
                return base.against_itself(frames)

        for name, (shown, frame) in zip(names, differences_that_show.told_apart(names, show), strict=True):
            yield from (replace(change, shown=shown, frame=frame) for change in levels[name])

    def _wear(self, name: str) -> list[Any]:
        """Return what may move that decides how a level looks."""
        return [self._here[name], *_paints(self._here[name])]

    def _dressed(self, name: str, found: Sequence[Change]) -> AbstractContextManager[None]:
        """Return what lets the stack show a level as it is here: itself where it is in place, else what it wears."""
        fresh, here = self._fresh[name], self._here[name]
        if name in self._in_place and here.name in self._layer.objects:
            return level_make_up.in_place_of(fresh, here)
        return lay_property.Dressed(fresh, here, found)

    def _frames_of_settings(self, settings: list[Change], *paints: Any) -> list[int]:
        frames = self._frames_of(*self._blocks(), *paints)
        if any(change.key in IN_MOTION for change in settings):
            # Test frames are chosen for what is fast, but not all of them are looked at.
            frames = sorted({*frames, self._fastest, *spread(self._looks, MOST_FRAMES)})
        return frames

    def _blocks(self) -> tuple[Any, ...]:
        return self._scene, blender_versions.compositor_of(self._scene), self._scene.world

    def _told_settings(self, base: fresh_stack.Base, settings: list[Change]) -> Iterator[Change]:
        keyed = any(moves(block) for block in self._blocks()[1:])
        frames = self._frames_of_settings(settings)
        if lay_property.runs_scripts(self._scene):
            yield from settings
            return
        shown, frame = base.against(fresh_stack.with_settings_of(self._scene, self._stack), frames)
        known = shown, frame
        if differences_that_show.is_quiet(known) or keyed or not all(map(lay_property.can_be_laid_on, settings)):
            yield from (replace(change, shown=shown, frame=frame) for change in settings)
            return
        moving = [change for change in settings if change.here in (KEYED, DRIVEN)]
        if moving and len(moving) < len(settings):
            yield from self._told_beside(base, moving, [one for one in settings if one not in moving], frames)
            return
        if moving:
            yield from (replace(change, shown=shown, frame=frame) for change in settings)
            return
        yield from self._told_apart(base, settings, frames, known)

    def _told_beside(
        self, base: fresh_stack.Base, moving: list[Change], still: list[Change], frames: Sequence[int]
    ) -> Iterator[Change]:
        """Yield what settings show that keys or drivers change, together, and beside it what the others do."""
        hybrid = fresh_stack.with_settings_of(self._scene, self._stack)
        for change in still:
            lay_property.lay_on(hybrid, self._stack, change)
        shown, frame = base.against(hybrid, frames)
        yield from (replace(change, shown=shown, frame=frame) for change in moving)
        yield from self._told_apart(base, still, frames, None)

    def _told_apart(
        self,
        base: fresh_stack.Base,
        settings: list[Change],
        frames: Sequence[int],
        known: differences_that_show.Shown | None,
    ) -> Iterator[Change]:
        """Yield what each setting shows, by itself or by what goes with it; ``known`` is what all of them do."""
        found = differences_that_show.told_apart(settings, lambda some: self._with(base, some, frames), known=known)
        quiet = [change for change, one in zip(settings, found, strict=True) if differences_that_show.is_quiet(one)]
        needed = dict(zip(map(id, quiet), self._left_out(base, quiet, frames), strict=True))
        for change, one in zip(settings, found, strict=True):
            yield replace(change, **dict(zip(("shown", "frame"), needed.get(id(change), one), strict=True)))

    def _with(
        self, base: fresh_stack.Base, some: Sequence[Change], frames: Sequence[int]
    ) -> differences_that_show.Shown:
        """Return what some settings show, laid on the fresh stack."""
        hybrid = self._stack.copy()
        for change in some:
            lay_property.lay_on(hybrid, self._scene, change)
        return base.against(hybrid, frames)

    def _left_out(
        self, base: fresh_stack.Base, quiet: Sequence[Change], frames: Sequence[int]
    ) -> list[differences_that_show.Shown]:
        """Return what settings that show nothing by themselves do show, by what goes with them.

        One may bring in what is not used without it, such as the curves of a view.
        """
        if not quiet:
            return []
        full = base.of(fresh_stack.with_settings_of(self._scene, self._stack))

        def show(some: Sequence[Change]) -> differences_that_show.Shown:
            without = fresh_stack.with_settings_of(self._scene, self._stack)
            for change in some:
                lay_property.lay_on(without, self._stack, change)
            return full.against(without, frames)

        return differences_that_show.told_apart(quiet, show)

    def _told_of_camera(self, base: fresh_stack.Base, change: Change) -> Change:
        fresh, here = self._stack.camera.data, camera_cuts.shot_camera(self._scene).data
        base.measure(self._few)
        kept = lay_property.value_of(fresh, change)
        lay_property.lay_on(fresh, here, change)
        try:
            shown, frame = base.against_itself(self._few)
        finally:
            lay_property.set_value(fresh, change, kept)
        return replace(change, shown=shown, frame=frame)


def _together(told: list[Change], shown: differences_that_show.Shown | None) -> list[Change]:
    """Return what was told of each change by itself; of what shows only together, the last shows what they do together.

    That is the nearest to the picture: of Simplify, its culling and a level that lets itself be culled, the level.
    """
    if (
        shown is None
        or shown[0] < 0
        or not all(differences_that_show.is_quiet((change.shown, change.frame)) for change in told)
    ):
        return told
    return [*told[:-1], replace(told[-1], shown=shown[0], frame=shown[1])]


def _setting(subject: str, path: str, here: Property, built: Property, *, kind: str = SETTING) -> Change:
    place = _PLACES.get(here.owner, here.owner_words)
    if path.startswith("render.image_settings."):
        place = "Output › Color Management" if path.count(".") > 2 else "Output"
    colours = path.startswith(("view_settings.", "display_settings."))
    words = here.words if place == here.words else f"{place} › {here.words}"
    return Change(subject, COLOUR if colours else kind, path, words, here.shown, built.shown)


def _signature(obj: Any) -> tuple[str, ...]:
    return materials.signature(materials.paints(obj))


def _paints(obj: Any) -> list[Any]:
    return [paint for paint in materials.paints(obj) if paint is not None]


def _worn(obj: Any) -> Any:
    """Return the material that an object's first face wears."""
    index = obj.data.polygons[0].material_index if len(obj.data.polygons) else 0
    found = materials.paints(obj)
    return found[min(index, len(found) - 1)] if found else None
