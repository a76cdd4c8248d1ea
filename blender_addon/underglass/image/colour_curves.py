# SPDX-License-Identifier: GPL-3.0-or-later
"""Colour curves and matrices that files are often converted with, to find out by which one proof passes were.

Decoding functions as their publishers give them, 1 and more wide; matrices are worked out from chromaticities.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Curve = Callable[[Floats], Floats]


def _power(exponent: float) -> Curve:
    return lambda y: np.sign(y) * np.abs(y) ** exponent


def _from_srgb(y: Floats) -> Floats:
    """IEC 61966-2-1: from the coded value to light."""
    return np.where(y <= 0.04045, y / 12.92, ((np.maximum(y, 0.04045) + 0.055) / 1.055) ** 2.4)


def to_srgb(y: Floats) -> Floats:
    """IEC 61966-2-1: from light to the coded value, beyond 1 going on."""
    return np.where(y <= 0.0031308, 12.92 * y, 1.055 * np.maximum(y, 0.0031308) ** (1 / 2.4) - 0.055)


def _from_709(y: Floats) -> Floats:
    """ITU-R BT.709: from the coded value to light."""
    return np.where(y < 0.081, y / 4.5, ((np.maximum(y, 0.081) + 0.099) / 1.099) ** (1 / 0.45))


def _to_709(y: Floats) -> Floats:
    return np.where(y < 0.018, 4.5 * y, 1.099 * np.maximum(y, 0.018) ** 0.45 - 0.099)


def _from_acescct(y: Floats) -> Floats:
    """S-2016-001: from ACEScct to linear."""
    return np.where(y <= 0.155251141552511, (y - 0.0729055341958355) / 10.5402377416545, 2 ** (y * 17.52 - 9.72))


def _from_acescc(y: Floats) -> Floats:
    """S-2014-003: from ACEScc to linear."""
    low = (2 ** (y * 17.52 - 9.72) - 2.0**-16) * 2
    return np.where(y < (9.72 - 15) / 17.52, low, 2 ** (y * 17.52 - 9.72))


def _from_cineon(y: Floats) -> Floats:
    """Kodak's 10-bit log as it is usually read: black at 95, white at 685, 0.002 a code, a film gamma of 0.6."""
    offset = 10 ** ((95 - 685) * 0.002 / 0.6)
    return np.asarray((10 ** ((1023 * y - 685) * 0.002 / 0.6) - offset) / (1 - offset))


def _from_pq(y: Floats) -> Floats:
    """SMPTE ST 2084, as a share of 10,000 cd/m²."""
    p = np.clip(y, 0, 1) ** (1 / 78.84375)
    return np.asarray((np.maximum(p - 0.8359375, 0) / (18.8515625 - 18.6875 * p)) ** (1 / 0.1593017578125))


# What undoes each conversion, by how it is called.
CURVES: dict[str, Curve] = {
    "the sRGB curve": _from_srgb,
    "the reverse of the sRGB curve": to_srgb,
    "a gamma of 2.2": _power(2.2),
    "the reverse of a gamma of 2.2": _power(1 / 2.2),
    "a gamma of 2.4": _power(2.4),
    "the reverse of a gamma of 2.4": _power(1 / 2.4),
    "the Rec.709 curve": _from_709,
    "the reverse of the Rec.709 curve": _to_709,
    "the ACEScct log curve": _from_acescct,
    "the ACEScc log curve": _from_acescc,
    "the Cineon log curve": _from_cineon,
    "the PQ curve": _from_pq,
}

_D65, _ACES_WHITE, _P3_WHITE = (0.3127, 0.3290), (0.32168, 0.33767), (0.314, 0.351)
# Red, green, blue and white, x and y (ITU-R BT.709 and BT.2020, SMPTE RP 431-2, S-2014-004, ST 2065-1).
SPACES = {
    "Rec.709": ((0.64, 0.33), (0.30, 0.60), (0.15, 0.06), _D65),
    "Rec.2020": ((0.708, 0.292), (0.170, 0.797), (0.131, 0.046), _D65),
    "Display P3": ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060), _D65),
    "DCI-P3": ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060), _P3_WHITE),
    "ACEScg": ((0.713, 0.293), (0.165, 0.830), (0.128, 0.044), _ACES_WHITE),
    "ACES2065-1": ((0.7347, 0.2653), (0.0, 1.0), (0.0001, -0.077), _ACES_WHITE),
}
_BRADFORD = np.array([(0.8951, 0.2664, -0.1614), (-0.7502, 1.7135, 0.0367), (0.0389, -0.0685, 1.0296)])


def matrices() -> dict[str, Floats]:
    """Return the matrices (3, 3) between the usual spaces by how each is called; whites adapted (Bradford) or not."""
    xyz = {name: _xyz_from_rgb(*points) for name, points in SPACES.items()}
    found = {}
    for name, (*_rgb, white) in SPACES.items():
        found[f"{name} to XYZ"] = xyz[name]
        found[f"XYZ to {name}"] = np.linalg.inv(xyz[name])
        for other, (*_other, wanted) in SPACES.items():
            if other != name:
                adapted = np.linalg.inv(xyz[other]) @ _adapted(white, wanted) @ xyz[name]
                found[f"{name} to {other}"] = adapted
                found[f"{name} to {other} without adaptation"] = np.linalg.inv(xyz[other]) @ xyz[name]
    return found


def _xyz_of(white: tuple[float, float]) -> Floats:
    x, y = white
    return np.array([x / y, 1.0, (1 - x - y) / y])


def _xyz_from_rgb(
    red: tuple[float, float], green: tuple[float, float], blue: tuple[float, float], white: tuple[float, float]
) -> Floats:
    columns = np.array([(x, y, 1 - x - y) for x, y in (red, green, blue)]).T
    return np.asarray(columns * np.linalg.solve(columns, _xyz_of(white)))


def _adapted(white: tuple[float, float], wanted: tuple[float, float]) -> Floats:
    gains = (_BRADFORD @ _xyz_of(wanted)) / (_BRADFORD @ _xyz_of(white))
    return np.asarray(np.linalg.inv(_BRADFORD) @ np.diag(gains) @ _BRADFORD)
