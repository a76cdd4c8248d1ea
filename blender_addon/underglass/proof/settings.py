"""Settings of the render that differ from the shot's, or change its picture."""

from collections.abc import Iterator

from ..plan.model import Plan
from ..plan.reading import SceneReading
from .evaluated import frame_size
from .facts import NOTE, STOP, Fault

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
    for key, (wanted, severity, words) in WANTED.items():
        if settings[key] != wanted:
            # That something is on is what the words say already.
            value = "" if wanted is False else f" ({settings[key]})"
            yield _fault(plan, f"setting-{key.replace('_', '-')}", NAN, "", f"{words}{value}", severity=severity)


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
        yield _fault(plan, "border", NAN, "", "the scene renders only a part of the frame (render region is on)")


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


def _fault(plan: Plan, code: str, amount: float, unit: str, text: str, *, severity: str = STOP) -> Fault:
    whole = int(plan.frames[0]), int(plan.frames[-1])
    return Fault(code, severity, "scene", "", whole, amount, unit, NAN, text)
