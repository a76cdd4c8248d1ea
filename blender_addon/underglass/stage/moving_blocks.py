# SPDX-License-Identifier: GPL-3.0-or-later
"""What keys and drivers do to a block while frames go by: whether they do, and on which frames it would show most."""

from collections.abc import Iterator, Sequence
from typing import Any

import bpy

from .. import blender_versions
from ..proof.audit.changed_properties import DRIVEN, KEYED

# So many frames are looked at of a kind.
MOST_FRAMES = 12


def owners_of(block: Any) -> Iterator[Any]:
    """Yield what may have keys of its own and decides how ``block`` looks: itself, its nodes, and groups in those.

    Of an object its data, its shape keys and the nodes of its modifiers too.
    """
    waiting, seen = [block], set()
    while waiting:
        one = waiting.pop(0)
        if one is None or one in seen:
            continue
        seen.add(one)
        yield one
        waiting += [getattr(one, name, None) for name in ("node_tree", "shape_keys")]
        waiting += [getattr(node, "node_tree", None) for node in getattr(one, "nodes", ())]
        waiting += [getattr(modifier, "node_group", None) for modifier in getattr(one, "modifiers", ())]
        if isinstance(one, bpy.types.Object):
            waiting.append(one.data)


def moves(block: Any) -> bool:
    """Return whether keys or drivers change a block or its nodes."""
    for owner in owners_of(block):
        anim = getattr(owner, "animation_data", None)
        if anim is not None and (anim.action is not None or anim.drivers or anim.nla_tracks):
            return True
    return False


def how_moved(block: Any) -> dict[str, str]:
    """Return the paths of the properties of ``block`` itself that keys or drivers change, and which of both it is."""
    anim = getattr(block, "animation_data", None)
    if anim is None:
        return {}
    keyed = {curve.data_path: KEYED for curve in blender_versions.fcurves_of(block)}
    return {**keyed, **{driver.data_path: DRIVEN for driver in anim.drivers}}


def extremes_of(block: Any, frames: Sequence[int]) -> Iterator[int]:
    """Yield the frames on which the curves of a block, and of its nodes, are highest and lowest."""
    for owner in owners_of(block):
        for curve in blender_versions.fcurves_of(owner) if hasattr(owner, "animation_data") else ():
            values = [curve.evaluate(frame) for frame in frames]
            yield frames[values.index(max(values))]
            yield frames[values.index(min(values))]


def spread(numbers: Sequence[int], most: int) -> list[int]:
    """Return ``most`` of the numbers at the most, from the first to the last."""
    if len(numbers) <= most:
        return list(numbers)
    step = (len(numbers) - 1) / (most - 1)
    return [numbers[round(index * step)] for index in range(most)]
