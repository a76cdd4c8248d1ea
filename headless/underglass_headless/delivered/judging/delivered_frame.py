# SPDX-License-Identifier: GPL-3.0-or-later
"""What is known of one delivered file: what it is, what it says of itself, and what its pixels told."""

from collections.abc import Sequence
from dataclasses import dataclass

from underglass.image.frame_note import FrameNote

from ...exr.unreadable_forms import Crop, Refusal
from ..whole.whole_frame import WholeFrame
from .level_gaps import Gap

# What tells where levels are in a frame, the best first.
PASSES, CRYPTOMATTE, PICTURE = "proof passes", "cryptomatte", "picture"


@dataclass(frozen=True)
class DeliveredFrame:
    """One file: the ``frame`` that its name says, and what is known of it.

    ``damage`` says why it cannot be read, and is empty where it can. ``size`` is the frame's, not of what was rendered
    of it. ``note`` is None, ``said_frame`` too, and ``scene`` and ``camera`` are empty where the file says nothing.
    ``evidence`` says by what its ``levels`` were found, see above. ``digest`` is the same for the same picture and
    passes, ``picture`` for the same picture. ``bad_values`` names the channels with values that are NaN or infinite.
    ``refusal`` says why it cannot be judged although it may be whole, ``crop`` what it leaves out of its frame, both
    None where all is well; ``holds`` names some of its channels where none of them is a proof pass. ``said_frame`` is
    counted as the shot counts, and ``said_above`` how far the number in the file's metadata is above that. ``gaps`` are
    parts of the frame that show less or more than they should. ``one_colour`` is the light of a picture that has one
    and the same all over, and is not black; ``other_colours`` is what the file says of its colours,
    if those are not the art's.
    ``whole`` is what the frame is as a whole, where that is not simply itself. ``picture_lacks`` names the colours
    that the picture does not have. ``steps`` is in how many steps from 0 to 1 its passes were rounded, 0 for none.
    ``unknown`` are passes of three channels that Blender does not name so, where there is no proof pass.
    """

    frame: int
    name: str
    damage: str = ""
    size: tuple[int, int] = (0, 0)
    note: FrameNote | None = None
    said_frame: int | None = None
    scene: str = ""
    camera: str = ""
    software: str = ""
    black: bool = False
    bad_values: tuple[str, ...] = ()
    digest: str = ""
    levels: tuple[int, ...] = ()
    lossy: str = ""
    evidence: str = ""
    refusal: Refusal | None = None
    crop: Crop | None = None
    holds: str = ""
    said_above: int = 0
    gaps: tuple[Gap, ...] = ()
    picture: str = ""
    one_colour: tuple[float, ...] = ()
    other_colours: str = ""
    whole: WholeFrame | None = None
    shared: bool = False
    half: bool = False
    samples_unsaid: bool = False
    steps: int = 0
    unknown: tuple[str, ...] = ()
    picture_lacks: tuple[str, ...] = ()


Group = Sequence[DeliveredFrame]
