"""What keys and drivers do to a block while frames go by: whether they do, and on which frames it would show most."""

from collections.abc import Iterator, Sequence
from typing import Any

from .. import compat


def moves(block: Any) -> bool:
    """Return whether keys or drivers change a block or its nodes."""
    for owner in (block, getattr(block, "node_tree", None)) if block is not None else ():
        anim = getattr(owner, "animation_data", None)
        if anim is not None and (anim.action is not None or anim.drivers or anim.nla_tracks):
            return True
    return False


def extremes_of(block: Any, frames: Sequence[int]) -> Iterator[int]:
    """Yield the frames on which the curves of a block, and of its nodes, are highest and lowest."""
    for owner in (block, getattr(block, "node_tree", None)) if block is not None else ():
        for curve in compat.fcurves_of(owner) if hasattr(owner, "animation_data") else ():
            values = [curve.evaluate(frame) for frame in frames]
            yield frames[values.index(max(values))]
            yield frames[values.index(min(values))]


def spread(numbers: Sequence[int], most: int) -> list[int]:
    """Return ``most`` of the numbers at the most, from the first to the last."""
    if len(numbers) <= most:
        return list(numbers)
    step = (len(numbers) - 1) / (most - 1)
    return [numbers[round(index * step)] for index in range(most)]
