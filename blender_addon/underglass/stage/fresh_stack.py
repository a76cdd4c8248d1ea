# SPDX-License-Identifier: GPL-3.0-or-later
"""A stack built afresh from the shot beside the scene that is looked at, in the same file: what that is compared with.

It is taken away again with all that came with it. Pictures of it, and of it with something of the scene laid on, tell
what a difference shows.
"""

import tempfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from .. import blender_versions
from ..image.colour_curves import to_srgb
from ..plan.plan_arrays import Plan
from ..reading.scene_reading import NOT_RENDERED
from . import build_stack, stack_marks

Floats = NDArray[np.float64]

# Kinds of data that a stack is made of, and what its pictures bring.
_KINDS = ("objects", "meshes", "cameras", "collections", "materials", "images", "actions", "node_groups", "worlds")
# Forms of a still picture that Blender reads back as plain pixels.
_STILL_FORMS = {"PNG", "JPEG", "OPEN_EXR", "TIFF", "BMP", "TARGA", "TARGA_RAW", "WEBP", "JPEG2000", "HDR"}
_LIGHT_FORMS = {"OPEN_EXR", "HDR"}
# Which of these a new scene samples by differs between versions, and between scenes of a script and of Blender's own.
USUAL_PATTERNS = {"AUTOMATIC", "TABULATED_SOBOL"}
# Of scenes that are sampled alike so many samples tell what more would.
ENOUGH_SAMPLES = 4
# A part of a frame, as shares of it (left, lower, right, upper), and the size that all of the frame has then, px.
Part = tuple[tuple[float, float, float, float], tuple[int, int]]
_OF_A_PART = (
    *("resolution_x", "resolution_y", "use_border", "use_crop_to_border"),
    *("border_min_x", "border_min_y", "border_max_x", "border_max_y"),
)
# What is beside a thing, for a filter spreads it; and so many pixels are rendered of it at the most.
EDGE_PX = 4
MOST_PIXELS = 90_000
MOST_SAMPLES = 256
CODES = 255.0


@contextmanager
def afresh(plan: Plan) -> Iterator[Any]:
    """Yield a new scene with the stack of ``plan`` and nothing else in it; afterwards nothing of it is there."""
    kinds = [getattr(bpy.data, kind) for kind in _KINDS]
    before = {block for kind in (*kinds, bpy.data.scenes) for block in kind}
    scene = bpy.data.scenes.new("built afresh")
    try:
        build_stack.build(plan, scene, fingerprint="afresh")
        yield scene
    finally:
        for added in [one for one in bpy.data.scenes if one not in before]:
            bpy.data.scenes.remove(added)
        bpy.data.batch_remove([block for kind in kinds for block in kind if block not in before])


class Stills:
    """Takes small pictures of scenes in ``folder`` as their own settings have them, and tells how far two differ.

    ``like`` is the scene whose form of files counts; ``width`` px across at the most. With ``alike`` the scenes are
    sampled alike, and few samples are taken.
    """

    def __init__(self, like: Any, folder: Path, *, width: int, alike: bool) -> None:
        self._folder, self._width, self._alike = folder, width, alike
        self._form = like.render.image_settings.file_format
        self._color_depth = like.render.image_settings.color_depth
        self._count = 0

    def prepare(self, scene: Any) -> Any:
        """Set ``scene`` up to be pictured, and return a copy that writes what its view shows."""
        render = scene.render
        width, height = (int(side * render.resolution_percentage / 100) for side in _size(scene))
        share = min(1.0, self._width / width)
        render.resolution_x, render.resolution_y = max(1, round(width * share)), max(1, round(height * share))
        render.resolution_percentage = 100
        render.use_persistent_data = render.use_multiview = render.use_sequencer = render.use_placeholder = False
        render.use_overwrite = render.use_file_extension = True
        render.threads_mode = "AUTO"
        render.engine = "CYCLES"
        scene.cycles.device = "CPU"
        most = ENOUGH_SAMPLES if self._alike else MOST_SAMPLES
        scene.cycles.samples = min(scene.cycles.samples, most)
        _run_no_scripts(scene)
        developing = scene.copy()
        blender_versions.use_png(developing.render.image_settings)
        return developing

    def pictures(self, scene: Any, developing: Any, frame: int, part: Part | None = None) -> list[Floats]:
        """Return what ``scene`` shows on ``frame``, as its file has it and as its view shows it: codes, 0 to 255.

        With ``part`` of that part of the frame alone, as large as it says.
        """
        if part is None:
            return self._pictures(scene, developing, frame)
        with _parted(scene, part), _parted(developing, part):
            return self._pictures(scene, developing, frame)

    def _pictures(self, scene: Any, developing: Any, frame: int) -> list[Floats]:
        # Whichever scene is rendered, Blender renders it on the frame that the open one is at.
        bpy.context.scene.frame_current = frame
        scene.frame_set(frame)
        found = []
        if self._form in _STILL_FORMS:
            if scene.render.image_settings.file_format != self._form:
                blender_versions.use_format(scene.render.image_settings, self._form)
            found += self._rendered(scene, is_light=self._form in _LIGHT_FORMS)
        if self._form not in _STILL_FORMS - _LIGHT_FORMS:
            # A file of light is as no view has it.
            developing.frame_set(frame)
            found += self._rendered(developing, is_light=False)
        return found

    def _rendered(self, scene: Any, *, is_light: bool) -> list[Floats]:
        self._count += 1
        name = self._folder / f"still-{self._count}"
        scene.render.filepath = str(name)
        bpy.ops.render.render(write_still=True, scene=scene.name)
        return [_codes(path, is_light=is_light) for path in _files(name)]


@contextmanager
def _parted(scene: Any, part: Part) -> Iterator[None]:
    """Let ``scene`` render only a part of its frame meanwhile."""
    render = scene.render
    kept = {key: getattr(render, key) for key in _OF_A_PART}
    box, size = part
    render.resolution_x, render.resolution_y = size
    render.use_border = render.use_crop_to_border = True
    render.border_min_x, render.border_min_y, render.border_max_x, render.border_max_y = box
    try:
        yield
    finally:
        for key, value in kept.items():
            setattr(render, key, value)


def part_of(box: tuple[float, float, float, float], frame_px: tuple[int, int]) -> Part:
    """Return the part of a frame that a ``box`` of shares names, with an edge, at a size that is soon rendered."""
    width, height = frame_px
    edges = [EDGE_PX / width, EDGE_PX / height]
    low = [max(0.0, box[axis] - edges[axis]) for axis in (0, 1)]
    high = [min(1.0, box[axis + 2] + edges[axis]) for axis in (0, 1)]
    pixels = (high[0] - low[0]) * width * (high[1] - low[1]) * height
    share = min(1.0, (MOST_PIXELS / max(pixels, 1.0)) ** 0.5)
    return (low[0], low[1], high[0], high[1]), (max(1, round(width * share)), max(1, round(height * share)))


def _size(scene: Any) -> tuple[int, int]:
    return scene.render.resolution_x, scene.render.resolution_y


def _files(name: Path) -> list[Path]:
    found = sorted(name.parent.glob(f"{name.name}*"))
    if not found:
        raise RuntimeError(f"Blender wrote no {name.name}")
    return found


def _codes(path: Path, *, is_light: bool) -> Floats:
    """Return the pixels of a file (rows, columns, 4) as codes from 0 to 255, and remove it."""
    image = bpy.data.images.load(str(path), check_existing=False)
    if not is_light:
        # Files of 16 bits would else come as light.
        image.colorspace_settings.is_data = True
    try:
        width, height = image.size
        pixels = np.empty(width * height * image.channels, dtype=np.float32)
        image.pixels.foreach_get(pixels)
        pixels = pixels.reshape(height, width, image.channels).astype(np.float64)
    finally:
        bpy.data.images.remove(image)
        path.unlink()
    if pixels.shape[2] < 4:
        pixels = np.concatenate([pixels, np.ones((*pixels.shape[:2], 4 - pixels.shape[2]))], axis=2)
    if is_light:
        pixels[..., :3] = to_srgb(np.maximum(np.nan_to_num(pixels[..., :3]), 0.0))
    return np.asarray(pixels * CODES)


def largest_change(one: Sequence[Floats], other: Sequence[Floats]) -> float:
    """Return the largest difference of two sets of pictures in codes; pictures of other sizes differ altogether."""
    if len(one) != len(other) or any(a.shape != b.shape for a, b in zip(one, other, strict=True)):
        return CODES
    return max((float(np.abs(a - b).max(initial=0.0)) for a, b in zip(one, other, strict=True)), default=0.0)


class Base:
    """Pictures of the fresh stack as it was built, each taken once."""

    def __init__(self, stills: Stills, stack: Any) -> None:
        self._stills, self._stack = stills, stack
        self._developing = stills.prepare(stack)
        self._pictures: dict[tuple[int, Part | None], Any] = {}

    def of(self, other: Any) -> "Base":
        """Return pictures of the same kind of another scene, to compare a third with."""
        return Base(self._stills, other)

    def measure(self, frames: Iterable[int], parts: Mapping[int, Part] | None = None) -> None:
        """Take the pictures of ``frames``, or of their ``parts``, where that was not done."""
        for frame in frames:
            key = frame, (parts or {}).get(frame)
            if key not in self._pictures:
                self._pictures[key] = self._stills.pictures(self._stack, self._developing, *key)

    def against(self, other: Any, frames: Sequence[int]) -> tuple[float, int]:
        """Return how far another scene of the same stack is from it at the most, in codes, and on which frame."""
        self.measure(frames)
        developing = self._stills.prepare(other)
        try:
            with _opened(other):
                return self._farthest(other, developing, frames, {})
        finally:
            for scene in (developing, other):
                bpy.data.scenes.remove(scene)

    def against_itself(self, frames: Iterable[int], parts: Mapping[int, Part] | None = None) -> tuple[float, int]:
        """Return the same of the stack as it now is, with something laid on it."""
        return self._farthest(self._stack, self._developing, frames, parts or {})

    def _farthest(
        self, scene: Any, developing: Any, frames: Iterable[int], parts: Mapping[int, Part]
    ) -> tuple[float, int]:
        farthest = NOT_RENDERED, 0
        for frame in frames:
            part = parts.get(frame)
            try:
                now = self._stills.pictures(scene, developing, frame, part)
            except RuntimeError:
                # Blender does not render it: who renders it elsewhere gets nothing either, or something else.
                return NOT_RENDERED, frame
            farthest = max(farthest, (largest_change(self._pictures[frame, part], now), frame))
        return farthest


@contextmanager
def _opened(scene: Any) -> Iterator[None]:
    """Make ``scene`` the open one meanwhile: keys on what a file is written by, such as its view, act in that alone."""
    window = bpy.context.window
    if window is None:
        yield
        return
    before = window.scene, window.view_layer
    window.scene = scene
    try:
        yield
    finally:
        window.scene, window.view_layer = before


def _run_no_scripts(scene: Any) -> None:
    """Freestyle's style modules are Python of the file's own, which Blender runs whether it trusts the file or not."""
    if any(layer.freestyle_settings.mode == "SCRIPT" for layer in scene.view_layers):
        scene.render.use_freestyle = False
    tree = blender_versions.compositor_of(scene)
    if tree is not None:
        _mute_writers(tree, set())


def _mute_writers(tree: Any, seen: set[Any]) -> None:
    """Mute the nodes that write files of their own."""
    if tree in seen:
        return
    seen.add(tree)
    for node in tree.nodes:
        if node.bl_idname == "CompositorNodeOutputFile":
            node.mute = True
        elif getattr(node, "node_tree", None) is not None:
            _mute_writers(node.node_tree, seen)


def with_settings_of(scene: Any, stack: Any) -> Any:
    """Return a new scene that has all settings of ``scene``, and for content the fresh ``stack`` alone."""
    hybrid = scene.copy()
    for child in list(hybrid.collection.children):
        hybrid.collection.children.unlink(child)
    for obj in list(hybrid.collection.objects):
        hybrid.collection.objects.unlink(obj)
    for collection in stack_marks.collections(stack):
        hybrid.collection.children.link(collection)
    for marker in list(hybrid.timeline_markers):
        hybrid.timeline_markers.remove(marker)
    hybrid.camera = stack.camera
    for key in ("resolution_x", "resolution_y", "resolution_percentage", "pixel_aspect_x", "pixel_aspect_y"):
        setattr(hybrid.render, key, getattr(stack.render, key))
    for key in ("frame_map_old", "frame_map_new"):
        setattr(hybrid.render, key, 100)
    hybrid.cycles.transparent_max_bounces = max(
        hybrid.cycles.transparent_max_bounces, stack.cycles.transparent_max_bounces
    )
    tree = blender_versions.own_compositor(hybrid)
    for node in tree.nodes if tree is not None else ():
        if node.bl_idname == "CompositorNodeRLayers" and node.scene == scene:
            node.scene = hybrid
    return hybrid


@contextmanager
def stills_folder() -> Iterator[Path]:
    """Yield a folder for pictures that is taken away again."""
    with tempfile.TemporaryDirectory(prefix="underglass-") as place:
        yield Path(place)
