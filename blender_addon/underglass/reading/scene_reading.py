# SPDX-License-Identifier: GPL-3.0-or-later
"""What was read from a Blender scene: plain arrays and words, free of bpy, that can be saved and loaded again."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field, fields
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .sound_reading import arrays_in, taken, words_in

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class CameraReading:
    """The active camera, frame by frame: NaN on frames without one.

    ``matrix`` (F, 4, 4) world from camera; ``lens_mm`` (F,); ``sensor_mm`` (F, 2); ``shift`` (F, 2);
    ``ortho_scale`` (F,) m; ``parallel`` (F,) 1 where it sees without perspective; ``upright`` (F,) 1 where the sensor
    is fitted to the frame's height, 0 to its width, NaN to the longer side; ``clip`` (F, 2) nearest and farthest seen,
    m; ``f_stop`` (F,) of the image distance; ``focus`` (F,) m, to the object where the camera is focused on one.
    """

    matrix: Floats
    lens_mm: Floats
    sensor_mm: Floats
    shift: Floats
    ortho_scale: Floats
    parallel: Floats
    upright: Floats
    clip: Floats
    f_stop: Floats
    focus: Floats

    @classmethod
    def empty(cls, count: int) -> "CameraReading":
        """Return a reading of ``count`` frames with nothing in it yet."""
        shapes = {"matrix": (4, 4), "sensor_mm": (2,), "shift": (2,), "clip": (2,)}
        return cls(**{f.name: np.full((count, *shapes.get(f.name, ())), np.nan) for f in fields(cls)})


@dataclass(frozen=True)
class LevelReading:
    """One object that is marked as a level.

    ``pulls`` names what else than its keys can move it; ``curves`` the f-curves that are not straight between keys;
    ``drawings`` the drawing shown on each frame, None without a run; ``missing_art`` images that are not there.
    """

    level: str
    object_name: str
    in_render: bool
    pulls: tuple[str, ...]
    curves: tuple[str, ...]
    drawings: tuple[int, ...] | None
    missing_art: tuple[str, ...]
    paint: tuple[str, ...] = ()


@dataclass(frozen=True)
class Things:
    """What a render shows beside the levels, on some of the frames.

    ``corners`` (N, 8, 3) world places whose hull a thing lies in, a thing in one or many; ``frame`` (N,) on which
    frame; ``which`` (N,) index into ``names``.
    """

    names: tuple[str, ...]
    frame: NDArray[np.int64]
    which: NDArray[np.int64]
    corners: Floats

    @classmethod
    def none(cls) -> "Things":
        """Return that there is nothing else."""
        nothing = np.zeros(0, dtype=np.int64)
        return cls((), nothing, nothing, np.zeros((0, 8, 3)))


@dataclass(frozen=True)
class Origin:
    """Where a scene comes from.

    ``libraries`` names the files that its stack is linked from; ``scripts`` the texts that are marked to run, and
    ``expressions`` counts the drivers that are Python; ``acting`` names those of both that can change what is rendered;
    ``built_from`` are the marks of its stacks: each the fingerprint
    of the shot that it was built from, or a title.
    """

    libraries: tuple[str, ...] = ()
    scripts: tuple[str, ...] = ()
    expressions: int = 0
    acting: tuple[str, ...] = ()
    built_from: tuple[str, ...] = ()


# What a change shows that was not rendered.
NOT_RENDERED = -1.0


@dataclass(frozen=True)
class Change:
    """One thing in which a scene differs from a stack that is built afresh from its shot.

    ``subject`` is a level's name, a thing's, ``camera`` or ``scene``; ``kind`` says what it is of, ``key`` names it for
    machines, ``words`` as the interface does; ``here`` and ``built`` are its values. ``shown`` is by how much it alone
    changes any pixel, in codes of 255, as pictures told, NOT_RENDERED where there are none; ``frame`` is where.
    """

    subject: str
    kind: str
    key: str
    words: str
    here: str
    built: str
    shown: float = NOT_RENDERED
    frame: int = 0


@dataclass(frozen=True)
class SceneReading:
    """A scene on every frame. ``corners`` (F, G, 4, 3) world places of the art's corners for G marked objects, in the
    order of ``levels``; ``hidden`` (F, G) hidden from render on that frame. ``others`` names what else is rendered, and
    ``things`` says where it is; ``paints`` is what each level's material would be if it were built now, beside
    ``LevelReading.paint``, and ``changes`` is in what else the scene differs from a stack that is built now.
    ``filming`` is the camera that markers make film each frame, None where they cut to no other than ``camera``.
    """

    blender: str
    frames: NDArray[np.int64]
    corners: Floats
    hidden: NDArray[np.bool_]
    camera: CameraReading
    levels: tuple[LevelReading, ...]
    settings: dict[str, Any]
    others: tuple[str, ...]
    camera_facts: dict[str, Any]
    paints: dict[str, tuple[str, ...]] = field(default_factory=dict)
    things: Things = field(default_factory=Things.none)
    origin: Origin = Origin()
    changes: tuple[Change, ...] = ()
    filming: CameraReading | None = None

    def save(self, path: Path) -> None:
        """Write the reading to one .npz file."""
        words = {
            "blender": self.blender,
            "levels": [asdict(level) for level in self.levels],
            "settings": self.settings,
            "others": self.others,
            "camera_facts": self.camera_facts,
            "paints": self.paints,
            "things": self.things.names,
            "origin": asdict(self.origin),
            "changes": [asdict(change) for change in self.changes],
        }
        arrays = {f"camera_{f.name}": getattr(self.camera, f.name) for f in fields(self.camera)}
        if self.filming is not None:
            arrays |= {f"filming_{f.name}": getattr(self.filming, f.name) for f in fields(self.filming)}
        with path.open("wb") as file:
            np.savez(
                file,
                words=np.array(json.dumps(words)),
                frames=self.frames,
                corners=self.corners,
                hidden=self.hidden,
                things_frame=self.things.frame,
                things_which=self.things.which,
                things_corners=self.things.corners,
                **arrays,
            )

    @classmethod
    def load(cls, path: Path) -> "SceneReading":
        """Return what `save` wrote; raises ValueError for a file that holds anything else, and OSError."""
        arrays = arrays_in(path)
        words = words_in(arrays)
        count, objects = len(arrays.get("frames", ())), len(words["levels"])
        frames = taken(arrays, "frames", (count,), "int64")
        corners = taken(arrays, "corners", (count, objects, 4, 3), "float64")
        hidden = taken(arrays, "hidden", (count, objects), "bool")
        if not count or any(level["drawings"] and len(level["drawings"]) != count for level in words["levels"]):
            raise ValueError("its levels do not have a drawing on every frame")
        camera = _camera_from(arrays, "camera", count)
        things = _things_from(arrays, tuple(words["things"]))
        return cls(
            blender=words["blender"],
            frames=frames,
            corners=corners,
            hidden=hidden,
            camera=camera,
            levels=tuple(_level_from(entry) for entry in words["levels"]),
            settings=words["settings"],
            others=tuple(words["others"]),
            camera_facts=words["camera_facts"],
            paints={name: tuple(lines) for name, lines in words["paints"].items()},
            things=things,
            origin=_origin_from(words["origin"]),
            changes=tuple(Change(**entry) for entry in words["changes"]),
            filming=_camera_from(arrays, "filming", count) if "filming_matrix" in arrays else None,
        )


def _camera_from(arrays: Mapping[str, NDArray[Any]], name: str, count: int) -> CameraReading:
    wanted = CameraReading.empty(count)
    return CameraReading(
        **{
            f.name: taken(arrays, f"{name}_{f.name}", getattr(wanted, f.name).shape, "float64")
            for f in fields(CameraReading)
        }
    )


def _things_from(arrays: Mapping[str, NDArray[Any]], names: tuple[str, ...]) -> Things:
    count = len(arrays.get("things_frame", ()))
    which = taken(arrays, "things_which", (count,), "int64")
    if count and not (which.min() >= 0 and which.max() < len(names)):
        raise ValueError("its things have no names")
    return Things(
        names,
        taken(arrays, "things_frame", (count,), "int64"),
        which,
        taken(arrays, "things_corners", (count, 8, 3), "float64"),
    )


def _origin_from(entry: dict[str, Any]) -> Origin:
    listed = {key: tuple(entry[key]) for key in ("libraries", "scripts", "acting", "built_from")}
    return Origin(expressions=entry["expressions"], **listed)


def _level_from(entry: dict[str, Any]) -> LevelReading:
    drawings = entry["drawings"]
    return LevelReading(
        level=entry["level"],
        object_name=entry["object_name"],
        in_render=entry["in_render"],
        pulls=tuple(entry["pulls"]),
        curves=tuple(entry["curves"]),
        drawings=None if drawings is None else tuple(drawings),
        missing_art=tuple(entry["missing_art"]),
        paint=tuple(entry["paint"]),
    )
