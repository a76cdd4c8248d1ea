# SPDX-License-Identifier: GPL-3.0-or-later
"""What commands take on their command line: kinds of values, each with its own words for a wrong one, and the options
that several commands share.
"""

import contextlib
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from underglass.shot import ShotError

_Command = TypeVar("_Command", bound=Callable[..., Any])
_BYTES = {"MB": 10**6, "GB": 10**9, "TB": 10**12}
SHOT = click.argument("shot", type=click.Path(path_type=Path))

# Files have seven digits for their number, or eight.
_MOST_OFFSET = 99_999_999


class Length(click.ParamType):  # type: ignore[type-arg]
    """A length with its unit, such as 0.5in; metres."""

    name = "length"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return metres; raises BadParameter."""
        from underglass.shot.units import METRES_PER_UNIT

        if isinstance(value, float):
            return value
        number, unit = value[:-2].strip(), value[-2:]
        with contextlib.suppress(ValueError):
            if unit in METRES_PER_UNIT and 0 <= (length := float(number) * METRES_PER_UNIT[unit]) < 1:
                return length
        raise click.BadParameter(f"{value} is not a length; give one such as 0.5in or 12mm", ctx=ctx, param=param)


class Tolerance(click.ParamType):  # type: ignore[type-arg]
    """Pixels above 0."""

    name = "pixels"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return pixels; raises BadParameter."""
        with contextlib.suppress(ValueError):
            if 0 < (number := float(value)) < 1e6:
                return number
        raise click.BadParameter(f"{value} is not a tolerance; give pixels above 0, such as 0.05", ctx=ctx, param=param)


class Count(click.ParamType):  # type: ignore[type-arg]
    """A whole number within limits."""

    name = "number"

    def __init__(self, noun: str, least: int, most: int) -> None:
        self._noun, self._least, self._most = noun, least, most

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Return the number; raises BadParameter."""
        with contextlib.suppress(ValueError):
            if self._least <= (number := int(value)) <= self._most:
                return number
        limits = f"give a whole number from {self._least} to {self._most}"
        raise click.BadParameter(f"{value} is not a number of {self._noun}; {limits}", ctx=ctx, param=param)


class Offset(click.ParamType):  # type: ignore[type-arg]
    """A whole number, below 0 too, that frames are numbered by above those of the shot."""

    name = "offset"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Return the number; raises BadParameter."""
        with contextlib.suppress(ValueError):
            if abs(number := int(value)) <= _MOST_OFFSET:
                return number
        raise click.BadParameter(f"{value} is not an offset; give a whole number, such as 1000", ctx=ctx, param=param)


class Size(click.ParamType):  # type: ignore[type-arg]
    """A size of files with its unit, such as 20GB; bytes, by powers of ten as disks are sold."""

    name = "size"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Return bytes; raises BadParameter."""
        if isinstance(value, int):
            return value
        match = re.fullmatch(r"([0-9]{1,9}(?:\.[0-9]{1,9})?) ?(MB|GB|TB)", value.strip(), re.ASCII)
        if match and (size := int(float(match[1]) * _BYTES[match[2]])):
            return size
        raise click.BadParameter(f"{value} is not a size; give one such as 500MB, 20GB or 2TB", ctx=ctx, param=param)


class Frames(click.ParamType):  # type: ignore[type-arg]
    """A list of frames and ranges such as ``1,48-60,144``."""

    name = "list"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[int, ...]:
        """Return frames in order; raises BadParameter."""
        from underglass.proof.choose_frames import parse_frames

        if isinstance(value, tuple):
            return value
        for piece in (part.strip() for part in value.split(",")):
            if not piece:
                what = "an empty list" if not value.strip() else f"{value!r} has nothing between two commas"
                raise click.BadParameter(f"{what}; write such as 1,48-60,144", ctx=ctx, param=param)
        try:
            return parse_frames(value)
        except ShotError as error:
            raise click.BadParameter(f"{error.problem}; {error.remedy}", ctx=ctx, param=param) from None


def into_folder(words: str) -> Callable[[_Command], _Command]:
    """Return the option for the folder that a command writes to, with ``words`` for its help."""
    place = click.Path(path_type=Path, file_okay=False)
    return click.option("-o", "--output", required=True, type=place, help=words)


# What a proof is made of is said alike to the command that makes it and to the one that describes it for a farm.
FRAMES = click.option(
    "--frames",
    default=(),
    type=Frames(),
    metavar="LIST",
    help="Frames to measure finely, such as 1,48-60,144. Default: at least 8 that matter most.",
)
TOLERANCE = click.option(
    "--tolerance",
    default=0.05,
    type=Tolerance(),
    show_default=True,
    metavar="PX",
    help="Largest error that a corner of a level may have, in pixels.",
)
SCENE = click.option(
    "--scene",
    type=click.Path(path_type=Path, exists=False),
    help="Prove this .blend, which somebody may have edited, instead of a fresh build.",
)
SAMPLES = click.option(
    "--samples",
    default=1,
    show_default=True,
    type=Count("samples", 1, 4096),
    metavar="N",
    help="Samples for each pixel of a picture.",
)
PICTURES = click.option("--pictures/--no-pictures", default=True, show_default=True, help="Make pictures to look at.")
FULL_SIZE = click.option("--full-size", is_flag=True, help="Make pictures as large as the frame.")
DEPTH_OF_FIELD = click.option(
    "--depth-of-field", is_flag=True, help="Make pictures with depth of field. They need more samples."
)
EVERY_PIXEL = click.option("--every-pixel", is_flag=True, help="Measure test frames on every pixel.")
