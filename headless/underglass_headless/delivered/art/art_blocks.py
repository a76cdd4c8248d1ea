# SPDX-License-Identifier: GPL-3.0-or-later
"""Art in blocks: what the least and the greatest of a block and of those round it are."""

from typing import TypeVar

import numpy as np

_Values = TypeVar("_Values", bound=np.ndarray)  # type: ignore[type-arg]


def with_those_round(values: _Values, pick: np.ufunc) -> _Values:
    """Return each block (H, W, …) with the eight round it, as ``pick`` chooses: np.minimum or np.maximum."""
    for axis in (0, 1):
        padded = np.concatenate([values.take([0], axis), values, values.take([-1], axis)], axis=axis)
        count = values.shape[axis]
        parts = [padded.take(range(at, at + count), axis) for at in range(3)]
        values = pick(pick(parts[0], parts[1]), parts[2])
    return values
