"""The draft: the shot that a scene is to be, where an artist has added, renamed or exchanged something since the files.

It is kept in the scene, as the texts that the files would have: undo goes back over it as over everything else, and
what is kept has been read, so that Save can write it.
"""

import json
from typing import Any

from ..plan import Plan, make_plan
from ..shot import Shot, ShotError, UnderglassError
from ..shot.rereading import shot_of_texts, texts_as_written
from .touched import said_of_the_scene


def shot_of(scene: Any, on_disk: Shot) -> Shot:
    """Return the draft of ``scene``, or where it has none the shot as its files have it."""
    draft = scene.underglass.draft
    return shot_of_texts(json.loads(draft), like=on_disk) if draft else on_disk


def keep(scene: Any, shot: Shot, *, like: Shot) -> Plan:
    """Make ``shot`` the draft of ``scene`` and return its plan; ``like`` is the shot as its files have it.

    Raises UnderglassError, and keeps nothing, where no reader would take it or no stand could do it.
    """
    try:
        texts = texts_as_written(shot)
        plan = make_plan(shot_of_texts(texts, like=like))
    except ShotError as error:
        raise UnderglassError(said_of_the_scene(error)) from error
    scene.underglass.draft = json.dumps(texts)
    return plan


def clear(scene: Any) -> None:
    """Let the files say all: they were read anew, or written."""
    if scene.underglass.draft:
        scene.underglass.draft = ""


def changes(on_disk: Shot, now: Shot) -> tuple[str, ...]:
    """Return what the draft ``now`` has otherwise than the files, in words for a panel."""
    before, after = set(on_disk.names), set(now.names)
    found = [f"{name} added" for name in now.names if name not in before]
    found += [f"{name} removed" for name in on_disk.names if name not in after]
    for level in now.levels:
        if level.name in before:
            was = on_disk.levels[on_disk.names.index(level.name)]
            found += [f"{level.name} art"] if was.art != level.art else []
            found += [f"{level.name} art width"] if _differs(was.art_width, level.art_width) else []
            found += [f"{level.name} height"] if _differs(was.height, level.height) else []
    found += ["units"] if on_disk.units != now.units else []
    if on_disk.units == now.units and on_disk.schedule != now.schedule:
        found.append("moves")
    return tuple(found)


def _differs(one: float, other: float) -> bool:
    # other units spell the same length a hair otherwise
    return abs(one - other) > 1e-9
