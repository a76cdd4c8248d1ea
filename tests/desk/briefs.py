# SPDX-License-Identifier: GPL-3.0-or-later
"""Briefs for tests: text of a brief.toml from few words, read back by the project's own reader."""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from underglass_headless.desk.brief.brief import Brief
from underglass_headless.desk.brief.brief_file import read_brief

CAMERA: dict[str, Any] = {
    "projection": "perspective",
    "gate_mm": [22.0, 16.0],
    "frame_px": [1828, 1332],
    "focal_mm": 50,
    "focus": 700,
}


def brief_text(
    *,
    levels: Sequence[Mapping[str, Any]],
    toward: Any = None,
    across: Any = None,
    camera: Mapping[str, Any] = {},
    stand: Mapping[str, Any] = {},
    paint: Mapping[str, Any] = {},
    frames: tuple[int, int] = (1, 49),
    units: str = "mm",
    world_units: str = "m",
) -> str:
    """Return a brief.toml: lengths in ``units``, a lens of 50 mm focused 700 units away, no field too narrow."""
    walks = {"toward": toward, "across": across}
    world = {"units": world_units} | {key: walk for key, walk in walks.items() if walk is not None}
    root = {"format": 1, "title": "walk", "units": units, "fps": 24, "frames": list(frames)}
    parts = [_lines("", root), _lines("[world]", world), _lines("[camera]", {**CAMERA, **camera})]
    parts += [_lines("[stand]", stand), _lines("[paint]", {"least_field": 0, **paint})]
    return "\n".join(parts + [_lines("[[level]]", level) for level in levels])


def _lines(heading: str, keys: Mapping[str, Any]) -> str:
    return "\n".join([heading, *(f"{key} = {_value(value)}" for key, value in keys.items())])


def _value(value: Any) -> str:
    if isinstance(value, Mapping):
        return "{ " + ", ".join(f"{key} = {_value(item)}" for key, item in value.items()) + " }"
    if isinstance(value, list | tuple):
        return f"[{', '.join(_value(item) for item in value)}]"
    return json.dumps(value)


def brief_in(folder: Path, **said: Any) -> Brief:
    """Return the brief that ``brief_text`` spells, written into ``folder`` and read."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "brief.toml").write_text(brief_text(**said), encoding="utf-8")
    return read_brief(folder)


def level(name: str, distance: float | str, **more: Any) -> dict[str, Any]:
    """Return the keys of a level."""
    return {"name": name, "distance": distance, **more}
