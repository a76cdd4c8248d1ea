"""Auditing: what stands in a scene that should not, or is missing, apart from where things are on screen.

Each finding is a Fault; whether a level is in the wrong place is `diagnose`.
"""

from collections import Counter
from collections.abc import Iterator

import numpy as np

from ..plan.model import Plan
from ..plan.reading import LevelReading, SceneReading
from ..shot import Projection
from .evaluated import frame_size
from .facts import NOTE, STOP, Fault
from .obstacles import obstacles

NAN = float("nan")

# Settings that change the picture but no level's place: what is wanted, how grave another value is, and what to say.
WANTED = {
    "engine": ("CYCLES", NOTE, "the scene renders with another engine than it is proved with"),
    "view_transform": ("Standard", NOTE, "the view transform changes the art's colours in pictures that are not EXR"),
    "exposure": (0.0, STOP, "the view's exposure changes the art's colours"),
    "gamma": (1.0, STOP, "the view's gamma changes the art's colours"),
    "film_exposure": (1.0, STOP, "the film's exposure changes the art's colours"),
    "world_volume": (False, NOTE, "the world is filled with a volume, which dims what lies far off"),
    "motion_blur": (False, STOP, "motion blur smears what a stand exposes standing still"),
    "stereo": (False, STOP, "the scene renders two views in the place of one"),
    "layers_rendered": (1, STOP, "the scene renders another number of view layers than one"),
    "compositor": (False, STOP, "a compositor stands between the stack and the frame"),
    "edited_in_sequencer": (False, STOP, "the sequencer's strips are rendered in the place of the stack"),
}


def audit(plan: Plan, *, reading: SceneReading, level_error_px: dict[str, float], tolerance: float) -> list[Fault]:
    """Return what is wrong or remarkable in the scene's make-up.

    ``level_error_px`` is the worst displacement of each level found in the scene; things that could move a level but
    do not displace it by more than ``tolerance`` px are notes.
    """
    whole = int(plan.frames[0]), int(plan.frames[-1])
    found = [*_settings(plan, reading), *_camera(plan, reading), *_presence(plan, reading)]
    found += [*_hidden(plan, reading), *_unbuilt(plan)]
    if reading.camera_facts["name"]:
        found += _seen_by_camera(plan, reading)
    for level in reading.levels:
        harmful = level_error_px.get(level.level, 0.0) > tolerance
        severity = STOP if harmful else NOTE
        error = level_error_px.get(level.level, NAN)
        effect = f"and it is up to {error:.2f} px out of place" if harmful else "without moving it out of place"
        if level.object_name != level.level:
            text = f"{level.level} goes by the name {level.object_name!r} in the scene"
            found.append(Fault("renamed", NOTE, level.level, "", whole, NAN, "", 0.0, text))
        for pull in level.pulls:
            text = f"{level.level} has {_a(pull)}, which no schedule asks for, {effect}"
            found.append(
                Fault(f"has-{pull.split()[0].lower()}", severity, level.level, "", whole, NAN, "", error, text)
            )
        for curve in level.curves:
            text = f"{level.level} has a curve that is not as it was built ({curve}), {effect}"
            found.append(Fault("curve-not-linear", severity, level.level, "", whole, NAN, "", error, text))
        for name in level.missing_art:
            text = f"{level.level} cannot show its art: {name} is missing"
            found.append(Fault("art-missing", STOP, level.level, "", whole, NAN, "", NAN, text))
        found += [*_drawings(plan, level.level, level.drawings), *_paint(plan, reading, level)]
    in_the_way = obstacles(plan, reading=reading)
    found += in_the_way.values()
    others = [name for name in reading.others if name not in in_the_way]
    if others:
        names = ", ".join(others[:5]) + (" …" if len(others) > 5 else "")
        text = f"the scene also renders what is no level of the shot, and not in its way: {names}"
        found.append(Fault("other-things", NOTE, "scene", "", whole, len(others), "objects", 0.0, text))
    return found


def _settings(plan: Plan, reading: SceneReading) -> Iterator[Fault]:
    """Yield the settings of the render that differ from the shot's."""
    shot, settings = plan.shot, reading.settings
    whole = int(plan.frames[0]), int(plan.frames[-1])

    def fault(code: str, amount: float, unit: str, text: str, severity: str = STOP) -> Fault:
        return Fault(code, severity, "scene", "", whole, amount, unit, NAN, text)

    width, height = shot.camera.frame_px
    seen = frame_size(reading)
    if seen != (width, height):
        yield fault(
            "frame-size", seen[0], "px", f"the scene renders {seen[0]} × {seen[1]} px, planned {width} × {height}"
        )
    if abs(settings["fps"] / shot.fps - 1) > 1e-5:
        text = f"the scene runs at {settings['fps']:g} frames a second, planned {shot.fps:g}"
        yield fault("frame-rate", settings["fps"], "fps", text)
    if abs(settings["pixel_aspect"] / shot.camera.squeeze - 1) > 1e-5:
        aspect = settings["pixel_aspect"]
        text = f"the scene's pixels are {aspect:g} times as wide as high, planned {shot.camera.squeeze:g}"
        yield fault("pixel-aspect", settings["pixel_aspect"], "", text)
    first, last = settings["frame_start"], settings["frame_end"]
    if (first, last) != shot.frames:
        text = f"the scene's frames are {first} to {last}, planned {shot.frames[0]} to {shot.frames[1]}"
        yield fault("frame-range", first, "frames", text)
    if settings["frame_step"] != 1:
        text = f"the scene renders only one frame in {settings['frame_step']}, planned is every one"
        yield fault("frame-step", settings["frame_step"], "frames", text)
    if abs(settings["time_stretch"] - 1) > 1e-6:
        text = f"the scene stretches time by {settings['time_stretch']:g}, so that keys fall on other frames"
        yield fault("time-stretched", settings["time_stretch"], "", text)
    clear = settings["clear_surfaces"]
    if settings["engine"] == "CYCLES" and clear < len(plan.names):
        text = f"the scene lets light through {clear} levels, the stack has {len(plan.names)}: what lies lower is black"
        yield fault("light-cut-short", clear, "levels", text)
    if settings["border"]:
        yield fault("border", NAN, "", "the scene renders only a part of the frame (render region is on)")
    if not settings["layer_rendered"]:
        yield fault("layer-off", NAN, "", "the view layer that holds the stack is not rendered")
    for key, (wanted, severity, words) in WANTED.items():
        if settings[key] != wanted:
            yield fault(f"setting-{key.replace('_', '-')}", NAN, "", f"{words} ({settings[key]})", severity)


def _camera(plan: Plan, reading: SceneReading) -> Iterator[Fault]:
    facts = reading.camera_facts
    whole = int(plan.frames[0]), int(plan.frames[-1])

    def fault(code: str, severity: str, text: str) -> Fault:
        return Fault(code, severity, "camera", "", whole, NAN, "", NAN, text)

    if not facts["name"]:
        yield fault("no-camera", STOP, "the scene has no active camera")
        return
    if not facts["ours"]:
        yield fault("other-camera", NOTE, f"the active camera {facts['name']!r} is not the one that was built")
    wanted = "ORTHO" if plan.shot.camera.projection is Projection.ORTHOGRAPHIC else "PERSP"
    if facts["type"] != wanted:
        text = f"the camera's projection is {facts['type'].lower()}, planned {plan.shot.camera.projection.value}"
        yield fault("projection", STOP, text)
    for pull in facts["pulls"]:
        yield fault(f"has-{pull.split()[0].lower()}", NOTE, f"the camera has {_a(pull)}, which no schedule asks for")
    for curve in facts["curves"]:
        yield fault("curve-not-linear", NOTE, f"the camera has a curve that is not as it was built ({curve})")


def _seen_by_camera(plan: Plan, reading: SceneReading) -> Iterator[Fault]:
    """Yield frames on which the camera is of another kind, or cuts off levels that are too near or too far for it."""
    frames, camera = plan.frames, reading.camera
    parallel = plan.shot.camera.projection is Projection.ORTHOGRAPHIC
    wrong = np.flatnonzero((camera.parallel == 1.0) != parallel)
    if len(wrong) and len(wrong) < len(frames):
        span = int(frames[wrong[0]]), int(frames[wrong[-1]])
        text = f"the camera's projection changes: it is not {plan.shot.camera.projection.value} on {_span(span)}"
        yield Fault("projection", STOP, "camera", "", span, len(wrong), "frames", NAN, text)
    depth = camera.matrix[:, None, 2, 3] - reading.corners.mean(axis=2)[..., 2]
    for column, level in enumerate(reading.levels):
        cut = np.flatnonzero((depth[:, column] < camera.clip[:, 0]) | (depth[:, column] > camera.clip[:, 1]))
        if len(cut):
            span = int(frames[cut[0]]), int(frames[cut[-1]])
            text = f"{level.level} is cut away on {_span(span)}: it lies outside the camera's clip distances"
            yield Fault("clipped", STOP, level.level, "", span, len(cut), "frames", NAN, text)


def _paint(plan: Plan, reading: SceneReading, level: LevelReading) -> Iterator[Fault]:
    """Yield a fault where a level does not look as it would if it were built now: another image, another material."""
    wanted = reading.paints.get(level.level)
    if wanted is None or level.missing_art or wanted == level.paint:
        return
    whole = int(plan.frames[0]), int(plan.frames[-1])
    images = [_image_names(lines) for lines in (wanted, level.paint)]
    if images[0] != images[1]:
        text = f"{level.level} shows {', '.join(images[1]) or 'no picture'}, planned {', '.join(images[0])}"
    else:
        line = next(iter([*sorted(set(level.paint) - set(wanted)), *sorted(set(wanted) - set(level.paint))]))
        text = f"{level.level} has another material than was built, and may look other than its art ({line[:80]})"
    yield Fault("art-differs", STOP, level.level, "", whole, NAN, "", NAN, text)


def _image_names(lines: tuple[str, ...]) -> list[str]:
    return [line.replace("\\", "/").rsplit("/", 1)[-1] for line in lines if " image " in line]


def _presence(plan: Plan, reading: SceneReading) -> Iterator[Fault]:
    whole = int(plan.frames[0]), int(plan.frames[-1])
    count = Counter(level.level for level in reading.levels)
    for name in plan.names:
        if count[name] == 0:
            yield Fault("missing", STOP, name, "", whole, NAN, "", NAN, f"{name} is not in the scene")
        elif count[name] > 1:
            text = f"{name} is in the scene {count[name]} times"
            yield Fault("doubled", STOP, name, "", whole, count[name], "times", NAN, text)
    for name in sorted(set(count) - set(plan.names)):
        text = f"{name} is in the scene but is no level of the shot"
        yield Fault("unknown-level", STOP, name, "", whole, NAN, "", NAN, text)


def _unbuilt(plan: Plan) -> Iterator[Fault]:
    """Yield a note where the shot says what a stack in Blender does not do yet."""
    if plan.shot.exposures:
        whole = int(plan.frames[0]), int(plan.frames[-1])
        text = (
            "the shot's exposures (passes, stops and fades) are neither built nor proved: the stack is lit all through"
        )
        yield Fault("exposures-not-built", NOTE, "scene", "", whole, len(plan.shot.exposures), "passes", 0.0, text)


def _hidden(plan: Plan, reading: SceneReading) -> Iterator[Fault]:
    for column, level in enumerate(reading.levels):
        frames = plan.frames if not level.in_render else plan.frames[reading.hidden[:, column]]
        if len(frames):
            span = int(frames[0]), int(frames[-1])
            text = f"{level.level} is hidden from render on {_span(span)}"
            yield Fault("hidden", STOP, level.level, "", span, len(frames), "frames", NAN, text)


def _drawings(plan: Plan, name: str, shown: tuple[int, ...] | None) -> Iterator[Fault]:
    """Yield a fault where a run of drawings shows another one than the exposure sheet says."""
    if name not in plan.names:
        return
    column = plan.names.index(name)
    drawings = plan.drawings[column]
    if not drawings:
        return
    seen = np.array(shown if shown is not None else [0] * len(plan.frames))
    wrong = np.flatnonzero(seen != plan.drawing[:, column])
    if len(wrong):
        at = int(wrong[0])
        span = int(plan.frames[at]), int(plan.frames[wrong[-1]])
        text = (
            f"{name} shows drawing {_drawing(drawings, int(seen[at]))} on frame {span[0]}, the sheet says"
            f" {_drawing(drawings, int(plan.drawing[at, column]))} ({len(wrong)} frames differ)"
        )
        yield Fault("drawing", STOP, name, "drawing", span, len(wrong), "frames", NAN, text)


def _drawing(names: tuple[str, ...], index: int) -> str:
    return names[index] if 0 <= index < len(names) else "none"


def _a(pull: str) -> str:
    """Return a pull with its article: `an NLA track`, `a parent`."""
    return f"{'an' if pull.startswith('NLA') else 'a'} {pull}"


def _span(frames: tuple[int, int]) -> str:
    return f"frame {frames[0]}" if frames[0] == frames[1] else f"frames {frames[0]} to {frames[1]}"
