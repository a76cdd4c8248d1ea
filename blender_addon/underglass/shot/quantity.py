# SPDX-License-Identifier: GPL-3.0-or-later
"""What a number in a file may be: its unit, the factor into the core's unit, and the values that make sense.

A `Quantity` takes the number as written and gives it back in metres, radians or plain, or says what is wrong.
"""

import math
from dataclasses import dataclass

from .errors import Place, ShotError
from .units import METRES_PER_UNIT, RADIANS_PER_DEGREE
from .words import number_text, shown

# Longer than any stand; a longer one is a slip of the unit, and would cost single-precision renderers their accuracy.
MOST_METRES = 1000.0
MOST_DEGREES = 36_000.0
# Blender counts frames no further than this, either way.
MOST_FRAME = 1_048_574


@dataclass(frozen=True)
class Quantity:
    """A kind of number; ``least`` and ``most`` in the core's unit, ``above`` where least itself is too small."""

    noun: str
    least: float
    most: float
    above: bool = False
    unit: str = ""
    factor: float = 1.0
    hint: str = ""

    def take(self, value: float, *, place: Place) -> float:
        """Return ``value`` in the core's unit; raises ShotError where it is no finite number within the limits."""
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        core = number * self.factor
        if math.isfinite(core) and self.least <= core <= self.most and not (self.above and core == self.least):
            return core
        raise ShotError(place, f"is {shown(value)}{self.unit and f' {self.unit}'}", self.remedy)

    @property
    def remedy(self) -> str:
        """What would be right, in the unit that the file uses."""
        low, high = (number_text(bound / self.factor) for bound in (self.least, self.most))
        unit = f" {self.unit}" if self.unit else ""
        span = f"above {low} and at most {high}{unit}" if self.above else f"from {low} to {high}{unit}"
        return f"write {self.noun} {span}{self.hint}"


def length(unit: str, *, least: float = -MOST_METRES, above: bool = False) -> Quantity:
    """Return a length written in ``unit``; ``least`` in metres, ``above`` where it must be more than that."""
    hint = f" ({MOST_METRES:g} m)"
    return Quantity("a length", least, MOST_METRES, above, unit, METRES_PER_UNIT[unit], hint)


ANGLE = Quantity(
    "an angle",
    -MOST_DEGREES * RADIANS_PER_DEGREE,
    MOST_DEGREES * RADIANS_PER_DEGREE,
    unit="degrees",
    factor=RADIANS_PER_DEGREE,
)
FOCAL_MM = length("mm", least=0.0, above=True)
BLUR_MM = Quantity("a circle", 0.0, 1.0e-3, above=True, unit="mm", factor=METRES_PER_UNIT["mm"])
CANDELA = Quantity("a light", 0.0, 1e9, above=True, unit="cd")
FPS = Quantity("frames per second", 1.0, 240.0)
F_STOP = Quantity("an f-stop", 0.0, 1000.0, above=True)
SQUEEZE = Quantity("a squeeze", 0.1, 10.0)
GROWTH = Quantity("a ratio", 0.0, 1e6, above=True)
DRIFT_RATIO = Quantity("a ratio", -1e6, 1e6)
STOPS = Quantity("a number of stops", -30.0, 30.0)
FRACTION = Quantity("a fraction", 0.0, 1.0)
STEPS = Quantity("a number of steps", 0.0, 2.0 * MOST_FRAME)
