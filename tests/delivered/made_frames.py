# SPDX-License-Identifier: GPL-3.0-or-later
"""Delivered frames that are made here, without Blender: EXR files as a render of a built scene would leave them.

Where each pixel meets each level is worked out with rays from the lens through the pixel to the glass, by the stand's
own tracks: another way round than the plan's, which goes from the art to the picture. The picture is the art's, as it
lies with the shot. `write_frames` is for any test that wants a delivery to break.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import OpenEXR
from PIL import Image

from underglass.image.picture_png import codes_from_light
from underglass.plan.plan_arrays import Plan
from underglass.shot import Projection
from underglass.shot.files.shot_fingerprint import fingerprint
from underglass_headless.delivered.art.art_shown import art_shown, read_art

COMPRESSIONS = {
    "ZIP": OpenEXR.ZIP_COMPRESSION,
    "ZIPS": OpenEXR.ZIPS_COMPRESSION,
    "PIZ": OpenEXR.PIZ_COMPRESSION,
    "PXR24": OpenEXR.PXR24_COMPRESSION,
    "NONE": OpenEXR.NO_COMPRESSION,
    "DWAA": OpenEXR.DWAA_COMPRESSION,
}


@dataclass(frozen=True)
class Stand:
    """Where everything stands on one frame, metres and radians: the camera, and each level by name.

    ``camera`` has height, east, north, turn; a level has height, east, north, turn, and the ``width`` of its art.
    ``lens`` multiplies the image distance. A test changes what it likes.
    """

    camera: dict[str, float]
    levels: dict[str, dict[str, float]]
    lens: float = 1.0


@dataclass(frozen=True)
class Making:
    """How frames are made. ``clear`` names levels behind which passes are written too, whatever their art is like.

    ``hidden`` names levels that are not rendered; ``samples`` 0 takes the pixel's centre, more are spread over a pixel
    and averaged, ``scattered`` by a random number each. ``eevee`` writes half floats and fringes that levels share, and
    only the nearest level that is not clear. ``window`` (left, top, right, bottom) px is taken off the frame, or added
    where negative.
    """

    clear: tuple[str, ...] = ()
    hidden: tuple[str, ...] = ()
    samples: int = 0
    half: bool = False
    eevee: bool = False
    passes: bool = True
    alpha: bool = True
    compression: str = "ZIP"
    layer: str = "ViewLayer"
    window: tuple[int, int, int, int] = (0, 0, 0, 0)
    tiled: bool = False
    parts: bool = False
    seed: int = 7
    header: dict[str, Any] = field(default_factory=dict)
    title: str | None = None
    shot: str | None = None
    noted: bool = True


def write_frames(
    plan: Plan,
    folder: Path,
    *,
    frames: Iterable[int] | None = None,
    making: Making | None = None,
    stand: Callable[[int, Stand], Stand] = lambda frame, stand: stand,
    name: str = "beauty.{frame:04d}.exr",
) -> list[Path]:
    """Write a delivery of ``plan`` into ``folder`` and return its files, all frames of the shot or ``frames``.

    ``stand`` gets the frame's number and how the plan has the stand there, and returns how it really stood.
    """
    folder.mkdir(parents=True, exist_ok=True)
    making = making or Making()
    written = []
    for frame in plan.frames.tolist() if frames is None else frames:
        path = folder / name.format(frame=frame)
        write_frame(plan, path, frame=frame, making=making, stand=stand(frame, planned_stand(plan, frame)))
        written.append(path)
    return written


def planned_stand(plan: Plan, frame: int) -> Stand:
    """Return where everything stands on ``frame`` as the plan has it."""
    row = frame - int(plan.frames[0])
    camera = {axis: float(track[row]) for axis, track in plan.tracks.camera.items() if axis != "focal"}
    levels = {
        level.name: {axis: float(track[row, column]) for axis, track in plan.tracks.levels.items()}
        | {"width": level.art_width}
        for column, level in enumerate(plan.shot.levels)
    }
    return Stand(camera, levels)


def write_frame(plan: Plan, path: Path, *, frame: int, making: Making, stand: Stand) -> None:
    """Write one delivered frame."""
    channels, size = channels_of(plan, frame=frame, making=making, stand=stand)
    (left, top, right, bottom), (width, height) = making.window, size
    header = {
        "compression": COMPRESSIONS[making.compression],
        "type": OpenEXR.tiledimage if making.tiled else OpenEXR.scanlineimage,
        "dataWindow": ((left, top), (width - 1 - right, height - 1 - bottom)),
        "displayWindow": ((0, 0), (width - 1, height - 1)),
        **metadata(plan, frame, making),
        **making.header,
    }
    if making.tiled:
        header["tiles"] = OpenEXR.TileDescription()
    header["dataWindow"], header["displayWindow"] = (
        tuple(np.array(corner, dtype=np.int32) for corner in header[window])
        for window in ("dataWindow", "displayWindow")
    )
    path.parent.mkdir(parents=True, exist_ok=True)
    if not making.parts:
        OpenEXR.File(header, channels).write(str(path))
        return
    stems = list(dict.fromkeys(name.rpartition(".")[0] for name in channels))
    parts = []
    for number, stem in enumerate(stems):
        mine = {name: pixels for name, pixels in channels.items() if name.rpartition(".")[0] == stem}
        kept = (
            header if number == 0 else {key: header[key] for key in header if key not in metadata(plan, frame, making)}
        )
        parts.append(OpenEXR.Part(dict(kept), mine, stem or "rgba"))
    OpenEXR.File(parts).write(str(path))


def metadata(plan: Plan, frame: int, making: Making) -> dict[str, str]:
    """Return what Blender 5.0 writes into the header of a frame of a built scene (read off such files)."""
    said = {"Frame": f"{frame:04d}", "Scene": "Scene", "Camera": "stand camera", "Software": "Blender 5.0.1"}
    if making.noted:
        title = plan.shot.title if making.title is None else making.title
        mark = fingerprint(plan.shot) if making.shot is None else making.shot
        said["Note"] = (
            f'underglass {{"shot": "{mark}", "title": "{title}", "scene": "Scene", "camera": "stand camera"}}'
        )
    if not making.eevee:
        said["cycles.ViewLayer.samples"] = str(max(1, making.samples))
    return said


def channels_of(
    plan: Plan, *, frame: int, making: Making, stand: Stand
) -> tuple[dict[str, np.ndarray], tuple[int, int]]:
    """Return the channels of a frame by name, and the frame's size."""
    size = plan.shot.camera.frame_px
    left, top, right, bottom = making.window
    columns, rows = np.arange(left, size[0] - right), np.arange(top, size[1] - bottom)
    rng = np.random.default_rng((making.seed, frame))
    count = max(1, making.samples)
    shape = len(rows), len(columns)
    passes = {level.name: np.zeros((7, *shape)) for level in plan.shot.levels}
    picture = np.zeros((4, *shape))
    # EEVEE moves the samples of all pixels alike, Cycles those of each pixel by itself.
    shared = rng.uniform(-0.5, 0.5, (count, 2)) if making.samples else np.zeros((1, 2))
    shared -= shared.mean(axis=0)
    for sample in range(count):
        if making.eevee or not making.samples:
            off_x, off_y = shared[sample]
        else:
            off_x, off_y = rng.uniform(-0.5, 0.5, (2, *shape))
        x = columns[None, :] + 0.5 - size[0] / 2 + off_x
        y = size[1] / 2 - rows[:, None] - 0.5 + off_y
        covered, behind = np.zeros(shape, dtype=bool), np.zeros(shape)
        for number, level in enumerate(plan.shot.levels):
            if level.name in making.hidden:
                continue
            u, v = coordinates(plan, number, frame=frame, stand=stand, x=x, y=y)
            met = (u >= 0) & (u <= 1) & (v >= 0) & (v <= 1) & ~covered
            opaque = level.name not in making.clear
            rgba = painted(plan, number, frame, u, v) * ((u >= 0) & (u <= 1) & (v >= 0) & (v <= 1))
            picture += (1 - behind) * rgba / count
            behind += (1 - behind) * rgba[3]
            if not making.eevee or opaque:
                nu, nv = counts_of(plan, number)
                waves = (np.cos(2 * np.pi * nu * u), np.sin(2 * np.pi * nu * u), np.cos(2 * np.pi * nv * v))
                values = (u, v, np.ones(shape), *waves, np.sin(2 * np.pi * nv * v))
                passes[level.name] += np.where(met, np.stack(np.broadcast_arrays(*values)), 0.0) / count
            # Paint that is opaque hides what is behind it, whatever the rest of the art lets through.
            covered |= met if opaque else met & (rgba[3] >= 1.0)
    return _named(plan, passes, picture, making), size


def painted(plan: Plan, number: int, frame: int, u: np.ndarray, v: np.ndarray) -> np.ndarray:
    """Return light and alpha of what a level shows at places of its art, (4, H, W), between the middles of pixels."""
    path = art_shown(plan, frame - int(plan.frames[0]), number)
    if path is None:
        return np.zeros((4, *u.shape))
    image = _art(path, path.stat().st_mtime_ns)
    height, width = image.shape[:2]
    x, y = np.clip(u * width - 0.5, 0, width - 1), np.clip((1 - v) * height - 0.5, 0, height - 1)
    left, top = x.astype(int), y.astype(int)
    right, bottom = np.minimum(left + 1, width - 1), np.minimum(top + 1, height - 1)
    across, down = (x - left)[..., None], (y - top)[..., None]
    upper = image[top, left] * (1 - across) + image[top, right] * across
    lower = image[bottom, left] * (1 - across) + image[bottom, right] * across
    return np.moveaxis(upper * (1 - down) + lower * down, -1, 0)


@lru_cache(maxsize=32)
def _art(path: Path, saved: int) -> np.ndarray:
    return read_art(path)


def paint_art(path: Path, number: int, size: tuple[int, int] = (320, 240)) -> None:
    """Paint art of its own for a level, opaque, of soft shades that differ from place to place."""
    u, v = np.meshgrid((np.arange(size[0]) + 0.5) / size[0], 1 - (np.arange(size[1]) + 0.5) / size[1])
    tint = 0.2 + 0.6 * np.array([number % 2, number % 3 / 2, (number + 1) % 2])
    light = tint * (0.5 + 0.4 * np.sin(9 * u) * np.cos(7 * v))[..., None]
    path.parent.mkdir(parents=True, exist_ok=True)
    Image.fromarray(codes_from_light(light)).convert("RGBA").save(path)


def coordinates(
    plan: Plan, number: int, *, frame: int, stand: Stand, x: np.ndarray, y: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return where rays through places ``x``, ``y`` px of the picture meet the art of one level, as u and v."""
    shot, row = plan.shot, frame - int(plan.frames[0])
    camera, level = stand.camera, stand.levels[shot.levels[number].name]
    # The film in metres, the squeeze of the lens taken off; a field is told as it is, squeezed or not.
    width = shot.camera.gate.width * shot.camera.squeeze if shot.camera.gate else shot.camera.field_width
    across, up = x * width / shot.camera.frame_px[0], y * width / shot.camera.frame_px[0] / shot.camera.squeeze
    if shot.camera.projection is Projection.ORTHOGRAPHIC:
        across, up = (along * shot.camera.field_width / width for along in (across, up))
        reach = 1.0
    else:
        reach = (camera["height"] - level["height"]) / (float(plan.image_distance[row]) * stand.lens)
    ray = (across + 1j * up) * reach * np.exp(1j * camera["turn"])
    meets = ray + camera["east"] + 1j * camera["north"]
    on_art = (meets - level["east"] - 1j * level["north"]) * np.exp(-1j * level["turn"])
    art = shot.levels[number].art_px
    return on_art.real / level["width"] + 0.5, on_art.imag / (level["width"] * art[1] / art[0]) + 0.5


def counts_of(plan: Plan, number: int) -> tuple[int, int]:
    """Return the fringes of a level: about one to 24 px where it is smallest."""
    level = plan.shot.levels[number]
    across = float(plan.size_px[:, number].min())
    up = across * level.art_px[1] / level.art_px[0]
    return max(1, min(64, round(across / 24))), max(1, min(64, round(up / 24)))


def _named(plan: Plan, passes: dict[str, np.ndarray], picture: np.ndarray, making: Making) -> dict[str, np.ndarray]:
    kind = np.float16 if making.half or making.eevee else np.float32
    stem = f"{making.layer}." if making.layer else ""
    prefix = f"{stem}Combined." if making.layer else ""
    channels = {f"{prefix}{letter}": values for letter, values in zip("RGBA", picture, strict=True)}
    if making.passes and making.eevee:
        u, v, _, cos_u, sin_u, cos_v, sin_v = sum(passes.values())
        for shared, three in (("proofu", (u, cos_u, sin_u)), ("proofv", (v, cos_v, sin_v))):
            channels |= {f"{stem}{shared}.{letter}": values for letter, values in zip("RGB", three, strict=True)}
        for number, level in enumerate(plan.shot.levels):
            nu, nv = counts_of(plan, number)
            channels[f"{stem}proof{number}u{nu}v{nv}.X"] = passes[level.name][2]
    elif making.passes:
        for number, level in enumerate(plan.shot.levels):
            u, v, hit, *_ = passes[level.name]
            channels |= {
                f"{stem}proof{number}.{letter}": values for letter, values in zip("RGB", (u, v, hit), strict=True)
            }
            if making.alpha:
                channels[f"{stem}proof{number}.A"] = hit
    return {name: np.ascontiguousarray(values.astype(kind)) for name, values in channels.items()}


def put(stand: Stand, who: str, **by: float) -> Stand:
    """Return the stand with one part, ``camera`` or a level, further along each named axis, metres and radians."""
    if who == "camera":
        return Stand(_added(stand.camera, by), stand.levels, stand.lens)
    return Stand(stand.camera, stand.levels | {who: _added(stand.levels[who], by)}, stand.lens)


def _added(part: dict[str, float], by: dict[str, float]) -> dict[str, float]:
    return part | {axis: part[axis] + more for axis, more in by.items()}


def cut_short(path: Path, *, share: float = 0.6) -> None:
    """Cut a file off, as a full disk or a killed copy does."""
    path.write_bytes(path.read_bytes()[: int(path.stat().st_size * share)])


def rewrite(path: Path, change: Callable[[dict[str, np.ndarray]], Sequence[None] | None]) -> None:
    """Change the pixels of a file in place: ``change`` gets the channels by name."""
    with OpenEXR.File(str(path), separate_channels=True) as file:
        channels = {name: channel.pixels.copy() for name, channel in file.channels().items()}
        header = {key: value for key, value in file.header().items() if key != "channels"}
    change(channels)
    OpenEXR.File(header, channels).write(str(path))
