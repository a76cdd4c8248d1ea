# SPDX-License-Identifier: GPL-3.0-or-later
"""Inside a Blender with a window: the time of everything of the add-on that Blender calls when the frame changes.

Blender asks each function how many arguments it takes, and a draw that raises costs next to nothing: each is wrapped
by one of its own shape, which lets errors through to the console, and calls are counted.
"""

import statistics
import time
from contextlib import ExitStack, contextmanager

import bpy

from ui import extension

# Time of the main thread on its processor: what other threads do at the same time, OpenGL's own too, is not in it.
clock = time.thread_time
PARTS = ("panels", "polls", "lines", "handlers")


class Meter:
    """Adds up what is called, by part: panels, polls, lines in the viewport, handlers."""

    def __init__(self):
        self.spent, self.calls = {}, {}

    @contextmanager
    def timed(self, part):
        begun = clock()
        try:
            yield
        finally:
            self.spent[part] = self.spent.get(part, 0.0) + clock() - begun
            self.calls[part] = self.calls.get(part, 0) + 1

    def draw(self, function):
        def draw(panel, context):
            with self.timed("panels"):
                function(panel, context)

        return draw

    def poll(self, function):
        def poll(cls, context):
            with self.timed("polls"):
                return function(cls, context)

        return classmethod(poll)

    def lines(self, function):
        def lines():
            with self.timed("lines"):
                function()

        return lines

    def handler(self, function):
        def changed(scene, depsgraph):
            with self.timed("handlers"):
                function(scene, depsgraph)

        return changed


def of_a_frame_change(frames, redraw):
    """Change the frame and draw the window, for each of ``frames``; return what of the add-on took how long, ms.

    ``quickest`` is the cheapest frame, ``median`` the median of all, ``undrawn`` the median of the lines alone with
    nothing handed to the graphics card: what is left is ours.
    """
    meter = Meter()
    with ExitStack() as undoing:
        _wrap(meter, undoing)
        redraw(2)
        meter.calls.clear()
        each = _each(meter, frames, redraw)
        calls = dict(meter.calls)
        overlay = extension.part("ui.viewport_overlay")
        undoing.callback(setattr, overlay, "_batch", overlay._batch)
        undoing.callback(overlay._kept.clear)
        overlay._kept.clear()
        overlay._batch = lambda points, colours: None
        redraw(2)
        undrawn = _each(meter, frames, redraw)
    totals = [sum(one.values()) for one in each]
    return {
        "calls": calls,
        "quickest": _in_ms(min(each, key=lambda one: sum(one.values()))),
        "median": _in_ms({part: statistics.median(one.get(part, 0.0) for one in each) for part in PARTS}),
        "median_in_all": 1000 * statistics.median(totals),
        "undrawn": 1000 * statistics.median(one.get("lines", 0.0) for one in undrawn),
    }


def _each(meter, frames, redraw):
    found = []
    for frame in frames:
        meter.spent.clear()
        bpy.context.scene.frame_set(frame)
        redraw(1)
        found.append(dict(meter.spent))
    return found


def _in_ms(spent):
    return {part: round(1000 * spent.get(part, 0.0), 3) for part in PARTS}


def _wrap(meter, undoing):
    """Have ``meter`` time all that Blender calls of the add-on; ``undoing`` takes it off again."""
    registration, overlay, watching = (
        extension.part(name) for name in ("registration", "ui.viewport_overlay", "ui.watch_changes")
    )
    for cls in registration.CLASSES:
        if issubclass(cls, bpy.types.Panel):
            _replace(cls, "draw", meter.draw(cls.draw), undoing)
        if hasattr(cls, "poll") and issubclass(cls, bpy.types.Panel | bpy.types.Operator):
            _replace(cls, "poll", meter.poll(cls.poll.__func__), undoing)
    handlers, edited = bpy.app.handlers.depsgraph_update_post, watching._edited
    handlers[handlers.index(edited)] = changed = meter.handler(edited)
    undoing.callback(lambda: handlers.__setitem__(handlers.index(changed), edited))
    overlay.detach()
    undoing.callback(overlay.attach)
    undoing.callback(setattr, overlay, "_draw", overlay._draw)
    undoing.callback(overlay.detach)
    overlay._draw = meter.lines(overlay._draw)
    overlay.attach()


def _replace(cls, name, value, undoing):
    """Set an attribute of a class; undone, it is the class's own again, or its bases'."""
    if name in vars(cls):
        undoing.callback(setattr, cls, name, vars(cls)[name])
    else:
        undoing.callback(delattr, cls, name)
    setattr(cls, name, value)
