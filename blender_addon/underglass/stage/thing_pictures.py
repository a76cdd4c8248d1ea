# SPDX-License-Identifier: GPL-3.0-or-later
"""Pictures of things that are no levels: what each of them shows where it can be in the frame."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from ..proof.audit.changed_properties import NOTHING
from ..proof.audit.obstacles import Box
from ..reading.scene_reading import Change
from . import fresh_stack, other_things
from .moving_blocks import MOST_FRAMES, extremes_of, spread

# More things than this are told together.
MOST_ALONE = 6


@dataclass(frozen=True)
class ThingPictures:
    """Things of a ``scene`` and its ``layer`` beside the fresh ``stack``.

    ``seen`` names them and says on which frames, of all ``frames``, and where each can be in the picture, which is
    ``frame_px`` wide and high.
    """

    scene: Any
    layer: Any
    stack: Any
    seen: dict[str, dict[int, Box]]
    frames: Sequence[int]
    frame_px: tuple[int, int]

    def told(self, base: fresh_stack.Base) -> Iterator[Change]:
        """Yield what each thing that can be in the picture shows there, all of them at first."""
        there = {name: boxes for name, boxes in self.seen.items() if name in self.scene.objects and boxes}
        if not there:
            return
        frames = {name: self.frames_with(name, list(boxes)) for name, boxes in there.items()}
        shown, frame = self.with_all(base, list(there), {one for some in frames.values() for one in some})
        for name in there:
            if shown > NOTHING and 1 < len(there) <= MOST_ALONE:
                alone, where = self.with_all(base, [name], frames[name])
            else:
                alone, where = shown, frame
            yield Change(name, "thing", "Scene.objects", name, "", "", alone, where)

    def _part(self, names: list[str], frame: int) -> fresh_stack.Part:
        boxes = [self.seen[name][frame] for name in names if frame in self.seen[name]]
        least, most = zip(*(box[:2] for box in boxes), strict=True), zip(*(box[2:] for box in boxes), strict=True)
        left, low = (min(values) for values in least)
        right, high = (max(values) for values in most)
        return fresh_stack.part_of((left, low, right, high), self.frame_px)

    def frames_with(self, name: str, frames: Sequence[int]) -> list[int]:
        """Return some of the ``frames`` on which a thing can be seen: spread, and where its curves are extreme."""
        obj = self.scene.objects[name]
        extremes = {
            frame
            for block in (obj, obj.data, *(slot.material for slot in obj.material_slots))
            for frame in extremes_of(block, self.frames)
        }
        return sorted({*spread(frames, MOST_FRAMES), *spread(sorted(extremes & {*frames}), MOST_FRAMES)})

    def with_all(self, base: fresh_stack.Base, names: list[str], frames: Iterable[int]) -> tuple[float, int]:
        """Return what things show on ``frames``, where they can be seen there, and on which frame most."""
        frames = sorted(frames)
        parts = {frame: self._part(names, frame) for frame in frames}
        collection = self.stack.collection
        objects = [self.scene.objects[name] for name in names]
        held_out = other_things.held_out_objects(self.layer)
        cut = [obj for obj in objects if obj.name in held_out and not obj.is_holdout]
        base.measure(frames, parts)
        for obj in objects:
            collection.objects.link(obj)
        for obj in cut:
            obj.is_holdout = True
        try:
            return base.against_itself(frames, parts)
        finally:
            for obj in objects:
                collection.objects.unlink(obj)
            for obj in cut:
                obj.is_holdout = False
