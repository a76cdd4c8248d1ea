# SPDX-License-Identifier: GPL-3.0-or-later
"""The files of a shot: reading, writing, amending and saving them, and telling whether anybody changed them."""

from .read import read_shot
from .write import chart_csv, drawings_csv, schedule_csv, shot_toml, write_shot

__all__ = ["chart_csv", "drawings_csv", "read_shot", "schedule_csv", "shot_toml", "write_shot"]
