# SPDX-License-Identifier: GPL-3.0-or-later
"""What a file says of its colours: the name of their space, and the chromaticities of their primaries."""

from collections.abc import Sequence

# What Blender writes under its own configuration, and what is no word on the matter (Color Interop Forum,
# "Color Space Encodings for Texture Assets and CG Rendering": unknown, data).
USUAL_COLOURS = "lin_rec709_scene"
NO_WORD = ("", "unknown", "data")
# x and y of red, green, blue and white. Of Rec. 709: what an EXR file without the attribute has (OpenEXR, Standard
# Attributes); those of ITU-R BT.2020, and of ACEScg and ACES2065-1 (SMPTE ST 2065-1 and S-2014-004).
REC_709 = (0.64, 0.33, 0.30, 0.60, 0.15, 0.06, 0.3127, 0.3290)
KNOWN = {
    "Rec.2020": (0.708, 0.292, 0.170, 0.797, 0.131, 0.046, 0.3127, 0.3290),
    "ACEScg": (0.713, 0.293, 0.165, 0.830, 0.128, 0.044, 0.32168, 0.33767),
    "ACES2065-1": (0.7347, 0.2653, 0.0, 1.0, 0.0001, -0.077, 0.32168, 0.33767),
}
# Chromaticities are written with three or four digits.
SAME = 0.002


def unusual_colours(name: str, chromaticities: Sequence[float] = ()) -> str:
    """Return which colours a file says it has, if they are not those of the art's light, and nothing if they are.

    ``name`` is its ``colorInteropID``, empty where it has none, ``chromaticities`` eight numbers or none.
    """
    said = name.strip()
    if said.lower() not in (*NO_WORD, USUAL_COLOURS):
        return said
    if len(chromaticities) != len(REC_709) or _are_same(chromaticities, REC_709):
        return ""
    known = next((one for one, numbers in KNOWN.items() if _are_same(chromaticities, numbers)), "")
    return f"of the primaries of {known}" if known else "of other primaries"


def _are_same(one: Sequence[float], other: Sequence[float]) -> bool:
    return all(abs(a - b) <= SAME for a, b in zip(one, other, strict=True))
