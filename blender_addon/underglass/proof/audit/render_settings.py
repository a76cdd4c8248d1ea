# SPDX-License-Identifier: GPL-3.0-or-later
"""Settings of the render that differ from the shot's, or change its picture."""

from collections.abc import Iterator

from ...plan.plan_arrays import Plan
from ...reading.scene_reading import NOT_RENDERED, SceneReading
from ...shot.words import number_text
from ..measure.evaluated_scene import frame_size
from ..proof_facts import BLOCK, NOTE, Fault
from .changed_properties import by_key, changed_by, changes_pixels

NAN = float("nan")

# Settings that change the picture but no level's place: what is wanted, how serious another value is, and what to say.
WANTED = {
    "engine": ("CYCLES", NOTE, "the scene renders with another engine than it is proved with"),
    "film_exposure": (1.0, BLOCK, "the film's exposure changes the art's colours"),
    "world_volume": (False, BLOCK, "the world is filled with a volume, which dims what lies far off"),
    "motion_blur": (False, BLOCK, "motion blur smears what a stand exposes standing still"),
    "stereo": (False, BLOCK, "the scene renders two views instead of one"),
    "layers_rendered": (1, BLOCK, "the scene renders another number of view layers than one"),
    "compositor": (False, BLOCK, "a compositor stands between the stack and the frame"),
    "edited_in_sequencer": (False, BLOCK, "the sequencer's strips are rendered instead of the stack"),
}


# What is asked of Blender in so many words; where pictures told that it changes nothing, it is a note.
SHOWN_BY = {
    "film_exposure": "cycles.film_exposure",
    "world_volume": "World.volume",
    "motion_blur": "render.use_motion_blur",
    "layers_rendered": "ViewLayer.use",
    "compositor": "Scene.compositor",
    "border": "render.use_border",
}
# Engines with which a shot may be rendered; frames of them are proved by themselves.
ENGINES = {"CYCLES", "BLENDER_EEVEE", "BLENDER_EEVEE_NEXT"}


def setting_faults(plan: Plan, *, reading: SceneReading) -> Iterator[Fault]:
    """Yield the settings of the render that are not as they should be."""
    yield from _frame(plan, reading)
    yield from _time(plan, reading)
    settings = reading.settings
    clear = settings["clear_surfaces"]
    if settings["engine"] == "CYCLES" and clear < len(plan.names):
        text = f"the scene lets light through {clear} levels, the stack has {len(plan.names)}: what lies lower is black"
        yield _fault(plan, "light-cut-short", clear, "levels", text)
    if not settings["layer_rendered"]:
        yield _fault(plan, "layer-off", NAN, "", "the view layer that holds the stack is not rendered")
    for key, (wanted, usual, words) in WANTED.items():
        if settings[key] != wanted:
            # That something is on is what the words say already.
            number = settings[key]
            said = number_text(number, digits=4) if isinstance(number, float) else number
            value = "" if wanted is False else f" ({said})"
            other_engine = key == "engine" and settings[key] not in ENGINES
            severity, shows = _shown(reading, key, BLOCK if other_engine else usual)
            yield _fault(plan, f"setting-{key.replace('_', '-')}", NAN, "", f"{words}{value}{shows}", severity=severity)


def settings_told(reading: SceneReading) -> list[str]:
    """Return the keys of the changes that `setting_faults` speaks of."""
    settings = reading.settings
    wanted = {"border": False, **{key: wanted for key, (wanted, _, _) in WANTED.items()}}
    return [change for key, change in SHOWN_BY.items() if settings[key] != wanted[key]]


def _shown(reading: SceneReading, key: str, severity: str) -> tuple[str, str]:
    """Return how serious a setting is by what it shows, and that in words."""
    change = by_key(reading).get(SHOWN_BY.get(key, ""))
    if change is None or change.shown == NOT_RENDERED:
        return severity, ""
    if changes_pixels(change):
        return severity, f": {changed_by(change)}"
    return NOTE, ", and changes no pixel"


def _frame(plan: Plan, reading: SceneReading) -> Iterator[Fault]:
    """Yield what is wrong with the frame's size and shape."""
    camera, settings = plan.shot.camera, reading.settings
    width, height = camera.frame_px
    seen = frame_size(reading)
    if seen != (width, height):
        text = f"the scene renders {seen[0]} × {seen[1]} px, planned {width} × {height}"
        yield _fault(plan, "frame-size", seen[0], "px", text)
    aspect = settings["pixel_aspect"]
    if abs(aspect / camera.squeeze - 1) > 1e-5:
        text = f"the scene's pixels are {aspect:g} times as wide as high, planned {camera.squeeze:g}"
        yield _fault(plan, "pixel-aspect", aspect, "", text)
    if settings["border"]:
        severity, shows = _shown(reading, "border", BLOCK)
        text = f"the scene renders only a part of the frame (render region is on){shows}"
        yield _fault(plan, "border", NAN, "", text, severity=severity)


def _time(plan: Plan, reading: SceneReading) -> Iterator[Fault]:
    """Yield what is wrong with which frames there are, and how fast they go by."""
    shot, settings = plan.shot, reading.settings
    if abs(settings["fps"] / shot.fps - 1) > 1e-5:
        text = f"the scene runs at {settings['fps']:g} frames a second, planned {shot.fps:g}"
        yield _fault(plan, "frame-rate", settings["fps"], "fps", text)
    first, last = settings["frame_start"], settings["frame_end"]
    if (first, last) != shot.frames:
        text = f"the scene's frames are {first} to {last}, planned {shot.frames[0]} to {shot.frames[1]}"
        yield _fault(plan, "frame-range", first, "frames", text)
    if settings["frame_step"] != 1:
        text = f"the scene renders only one frame in {settings['frame_step']}, planned is every one"
        yield _fault(plan, "frame-step", settings["frame_step"], "frames", text)
    if abs(settings["time_stretch"] - 1) > 1e-6:
        text = f"the scene stretches time by {settings['time_stretch']:g}, so that keys fall on other frames"
        yield _fault(plan, "time-stretched", settings["time_stretch"], "", text)


def _fault(plan: Plan, code: str, amount: float, unit: str, text: str, *, severity: str = BLOCK) -> Fault:
    whole = int(plan.frames[0]), int(plan.frames[-1])
    return Fault(code, severity, "scene", "", whole, amount, unit, NAN, text)
