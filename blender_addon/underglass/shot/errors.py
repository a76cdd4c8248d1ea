# SPDX-License-Identifier: GPL-3.0-or-later
"""The errors a user can cause, each one line: file, line, key, what is wrong, what would be right.

No error is printed here; the command line and the Blender panels do that.
"""

from dataclasses import dataclass
from pathlib import Path


class UnderglassError(Exception):
    """Base of every error that Underglass raises on purpose."""


@dataclass(frozen=True)
class Place:
    """Where in the files of a shot a thing was said: ``line`` counts from 1, 0 means the whole file."""

    file: Path
    line: int = 0
    key: str = ""

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}" if self.line else str(self.file)
        return f"{where}: {self.key}" if self.key else where


class ShotError(UnderglassError):
    """Something in the files of a shot is wrong.

    ``place`` says where, ``problem`` what is wrong, ``remedy`` what would be right.
    """

    def __init__(self, place: Place, problem: str, remedy: str) -> None:
        self.place = place
        self.problem = problem
        self.remedy = remedy
        super().__init__(" ".join(f"{place}: {problem}; {remedy}".split()))
