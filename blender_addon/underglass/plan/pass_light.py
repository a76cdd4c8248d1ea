# SPDX-License-Identifier: GPL-3.0-or-later
"""The light of a pass: which fraction of it is exposed on a frame."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from ..shot.model import Exposure


def fractions(exposure: Exposure, *, frames: Sequence[int] | NDArray[np.int64]) -> NDArray[np.float64]:
    """Return which fraction of the pass is exposed on each of ``frames``, (F,).

    It goes evenly from point to point of the pass's fade.
    """
    if not exposure.fade:
        return np.ones(len(frames))
    at, shares = np.array(exposure.fade, dtype=np.float64).T
    return np.asarray(np.interp(frames, at, shares))
