# SPDX-License-Identifier: GPL-3.0-or-later
"""The draft: the shot that a scene is to be, where an artist has added, renamed or exchanged something since the files.

It is kept in the scene, as the texts that the files would have: undo goes back over it as over everything else, and
what is kept has been read, so that Save can write it.
"""

import json
from dataclasses import replace
from typing import Any

from ..plan import Plan, make_plan
from ..revise.called import called_now
from ..shot import FrameTable, Shot, ShotError, UnderglassError
from ..shot.files.unsaved_texts import shot_of_texts, texts_as_written
from .touched_words import said_of_the_scene


def shot_of(scene: Any, on_disk: Shot) -> Shot:
    """Return the draft of ``scene``, or where it has none the shot as its files have it.

    Raises UnderglassError where it can be read no longer: art that it names is gone.
    """
    if not scene.underglass.draft:
        return on_disk
    try:
        return shot_of_texts(json.loads(scene.underglass.draft), like=on_disk)
    except ShotError as error:
        raise UnderglassError(said_of_the_scene(error)) from error


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
    called = called_now(on_disk, now)
    found = [f"{was} is called {name}" for was, name in called.items() if was != name]
    found += [f"{name} added" for name in now.names if name not in called.values()]
    found += [f"{name} removed" for name in on_disk.names if name not in called]
    for level in on_disk.levels:
        if level.name in called:
            is_now = now.levels[now.names.index(called[level.name])]
            differs = {
                "art": level.art != is_now.art,
                "art width": _differs(level.art_width, is_now.art_width),
                "height": _differs(level.height, is_now.height),
            }
            found += [f"{is_now.name} {what}" for what, it_does in differs.items() if it_does]
    if on_disk.units != now.units:
        found.append("units")
    elif _unnamed(on_disk) != _unnamed(now):
        found.append("moves")
    return tuple(found)


def _unnamed(shot: Shot) -> Any:
    """Return the schedule without the names in it."""
    chart = replace(shot.chart, columns=())
    if isinstance(shot.schedule, FrameTable):
        return replace(shot.schedule, columns=()), chart
    return tuple(replace(move, part="", about="") for move in shot.schedule), chart


def _differs(one: float, other: float) -> bool:
    # other units spell the same length a hair otherwise
    return abs(one - other) > 1e-9
