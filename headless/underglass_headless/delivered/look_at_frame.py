# SPDX-License-Identifier: GPL-3.0-or-later
"""How each delivered frame of a plan is looked at: what is asked of its file, and what that is held against."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underglass.plan import Plan, corners_px
from underglass.proof.measure.measured_corners import Fit
from underglass.shot import UnderglassError

from ..exr.read_exr import Channel
from .art.colour_samples import pixels_to_look_at
from .art.coverage import Coverage
from .art.painted_levels import Painted
from .art.register_levels import register
from .art.whose_picture import nearer_picture
from .asked_of_file import Asked
from .files.pass_fits import LevelPass
from .judging.level_gaps import Gap
from .read_frame import Looked, look_at
from .whole.whole_files import WholeFiles
from .whole.whole_frame import WholeFrame

# Blur is not followed farther than this, px.
MOST_MARGIN_PX = 100.0


def looking(
    plan: Plan,
    *,
    margins_px: NDArray[np.float64],
    by_art: Sequence[int],
    pictured: Sequence[int],
    tolerance: float,
    offset: int = 0,
) -> Callable[[int, Path], Looked]:
    """Return a function that looks at a frame's file; at frames ``by_art`` by that too, where there is nothing better.

    The picture of ``pictured`` frames is kept. ``margins_px`` (F, L) is how far edges are blurred, at most
    MOST_MARGIN_PX; ``offset`` how far the numbers of the files are above the frames'.
    """
    into, kept = frozenset(by_art), frozenset(pictured)
    first, corners, painted = int(plan.frames[0]), corners_px(plan), Painted(plan)
    coverage = Coverage(plan)
    files = WholeFiles(plan, corners, tolerance)

    def registered(frame: int, pixels: NDArray[np.float32], mattes: bool) -> dict[int, Fit | None]:
        return register(pixels, corners=corners[frame - first], arts=painted.arts(frame, mattes=mattes))

    def gaps(
        frame: int, passes: Mapping[int, LevelPass], fits: Mapping[int, Fit | None], picture: Sequence[Channel]
    ) -> tuple[Gap, ...]:
        if margins_px[frame - first].max() >= MOST_MARGIN_PX:
            # So much blur leaves nothing that is certain.
            return ()
        return coverage.gaps(
            frame,
            passes=passes,
            fits=fits,
            corners=corners[frame - first],
            margin_px=float(margins_px[frame - first].max()),
            picture=picture,
        )

    def as_whole(
        frame: int,
        passes: Mapping[int, LevelPass],
        fits: Mapping[int, Fit | None],
        picture: Callable[[], NDArray[np.float32] | None],
    ) -> WholeFrame | None:
        def whose(row: int, other: int) -> int | None:
            shown = picture()
            if shown is None:
                return None
            try:
                arts = painted.arts(row + first, mattes=False), painted.arts(other + first, mattes=False)
            except UnderglassError:  # what is wrong with the art is said elsewhere
                return None
            near = nearer_picture(shown[..., :3], corners=(corners[row], corners[other]), arts=arts)
            return None if near is None else (row, other)[near]

        return files.look(frame, passes, fits, whose)

    def look(frame: int, path: Path) -> Looked:
        asked = Asked(
            frame=frame,
            frame_px=plan.shot.camera.frame_px,
            margins_px=dict(enumerate(margins_px[frame - first].tolist())),
            with_picture=frame in kept,
            by_art=registered if frame in into else None,
            find_gaps=gaps,
            names=plan.names,
            offset=offset,
            pixels_of=pixels_to_look_at(corners[frame - first], plan.shot.camera.frame_px),
            as_whole=as_whole,
        )
        return look_at(path, asked)

    return look
