# SPDX-License-Identifier: GPL-3.0-or-later
"""Laying a property of one thing on another of its kind: a difference, taken to the fresh stack or back."""

import contextlib
import re
from collections.abc import Sequence
from typing import Any

import bpy

from ..reading.scene_reading import Change
from .rna_properties import owner_of

# Properties of Cycles that decide where in a pixel light is looked for, and how often.
_SAMPLING = re.compile(
    r"cycles\.(samples|seed|use_animated_seed|sampling_pattern|use_adaptive_sampling|adaptive_.*|time_limit|sample_.*"
    r"|use_sample_subset|scrambling_distance|use_denoising|min_transparent_bounces|use_layer_samples)"
)
_OF_SCENES = {"setting", "colour", "noise"}


def is_sampling(change: Change) -> bool:
    """Return whether a change lets a render take other samples."""
    of_layer = (change.kind, change.key) == ("layer", "samples")
    return of_layer or (change.kind in _OF_SCENES and bool(_SAMPLING.fullmatch(change.key)))


def can_be_laid_on(change: Change) -> bool:
    """Return whether a change is of one value that can be set by itself."""
    return change.kind in {*_OF_SCENES, "layer", "object", "camera"} and not set("#[") & set(change.key)


def value_of(thing: Any, change: Change) -> Any:
    """Return the value that ``thing``, a scene or an object, has of the changed property."""
    owner, key = owner_of(_root(thing, change), change.key)
    value = getattr(owner, key)
    return tuple(value) if hasattr(value, "__len__") and not isinstance(value, (str, set)) else value


def set_value(thing: Any, change: Change, value: Any) -> None:
    """Set the changed property of ``thing``; what Blender does not take is left as it is."""
    owner, key = owner_of(_root(thing, change), change.key)
    with contextlib.suppress(AttributeError, TypeError, ValueError, RuntimeError):
        setattr(owner, key, value)


def lay_on(thing: Any, source: Any, change: Change) -> None:
    """Give ``thing`` the value that ``source``, of the same kind, has of the changed property."""
    if can_be_laid_on(change):
        set_value(thing, change, value_of(source, change))


def _root(thing: Any, change: Change) -> Any:
    """Return what the path of a change starts from: for one of a view layer the one that is rendered."""
    if change.kind != "layer":
        return thing
    if thing == bpy.context.scene:
        return bpy.context.view_layer
    return thing.view_layers[0]


def runs_scripts(scene: Any) -> bool:
    """Return whether a render would run Python of the file's own: Freestyle's style modules."""
    modes = (layer.freestyle_settings.mode for layer in scene.view_layers if layer.use)
    return bool(scene.render.use_freestyle) and "SCRIPT" in modes


class Dressed:
    """Lets the fresh object of a level wear what the one in the scene does, in what differs."""

    def __init__(self, fresh: Any, here: Any, found: Sequence[Change]) -> None:
        self._fresh, self._here, self._found = fresh, here, found

    def __enter__(self) -> None:
        mesh = self._fresh.data
        self._kept = [slot.material for slot in self._fresh.material_slots]
        self._faces = [polygon.material_index for polygon in mesh.polygons]
        self._values = []
        if any(change.kind.startswith("material") for change in self._found):
            mesh.materials.clear()
            for slot in self._here.material_slots:
                mesh.materials.append(slot.material)
            index = self._here.data.polygons[0].material_index if len(self._here.data.polygons) else 0
            for polygon in mesh.polygons:
                polygon.material_index = index
        for change in self._found:
            if change.kind == "object":
                self._values.append((change, value_of(self._fresh, change)))
                lay_on(self._fresh, self._here, change)

    def __exit__(self, *_: object) -> None:
        mesh = self._fresh.data
        mesh.materials.clear()
        for material in self._kept:
            mesh.materials.append(material)
        for polygon, index in zip(mesh.polygons, self._faces, strict=True):
            polygon.material_index = index
        for change, value in self._values:
            set_value(self._fresh, change, value)
