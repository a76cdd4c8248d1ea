# SPDX-License-Identifier: GPL-3.0-or-later
"""Named camera gates: the part of the film that is exposed, in millimetres.

A gate is a word of the shot file, so it lives with the shot. Other gates are written as `gate_mm = [width, height]`;
the squeeze of an anamorphic lens is a key of its own.
"""

from dataclasses import dataclass

MM_PER_INCH = 25.4


@dataclass(frozen=True)
class NamedGate:
    """One published aperture: its size in inches as printed, and who printed it."""

    width_in: float
    height_in: float
    source: str

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height in millimetres (1 in = 25.4 mm exactly)."""
        return self.width_in * MM_PER_INCH, self.height_in * MM_PER_INCH


_FORMATS = "encyclopedia extract of the 35 mm film technical specifications, which attributes the set to SMPTE"

NAMED_GATES = {
    "full-35": NamedGate(0.980, 0.735, "Practical Cinematography, 2nd ed. (Focal Press), ch. 20"),
    "academy-35": NamedGate(0.866, 0.630, _FORMATS),
    "anamorphic-35": NamedGate(0.866, 0.732, _FORMATS),
    "super-35": NamedGate(0.980, 0.735, _FORMATS),
    "super-35-185": NamedGate(0.945, 0.511, _FORMATS),
    "super-35-239": NamedGate(0.945, 0.394, _FORMATS),
    "projector-137": NamedGate(0.825, 0.602, _FORMATS),
    "projector-166": NamedGate(0.825, 0.497, _FORMATS),
    "projector-185": NamedGate(0.825, 0.446, _FORMATS),
    "projector-239": NamedGate(0.825, 0.690, _FORMATS),
    "super-16": NamedGate(0.488, 0.295, "rec.arts.movies.tech FAQ, section 2.4.2"),
    "standard-16": NamedGate(10.26 / MM_PER_INCH, 7.49 / MM_PER_INCH, "Blender's Analog 16 mm camera preset"),
}
