# SPDX-License-Identifier: GPL-3.0-or-later
"""Reporting: what an operator says, in the status bar and in the sidebar, in one line."""

from collections.abc import Callable
from typing import Any

from ..shot import UnderglassError
from .redraw import redraw_till_settled

Result = set[str]
Execute = Callable[[Any, Any], Result]


def reported(execute: Execute) -> Execute:
    """Return ``execute`` of an operator that says what went wrong instead of raising, and then changes nothing."""

    def guarded(operator: Any, context: Any) -> Result:
        try:
            return execute(operator, context)
        except UnderglassError as error:
            return failed(operator, context.scene, str(error))
        except OSError as error:
            return failed(operator, context.scene, f"{error.filename or 'a file'}: {error.strerror or error}")

    return guarded


def may_work(cls: Any, context: Any, *, needs_shot: bool = True) -> bool:
    """Return whether an operator can work in the present scene; where not, the reason is said on its button."""
    scene = context.scene
    if scene.library is not None:
        cls.poll_message_set("This scene is linked from another file: make it local first")
        return False
    if needs_shot and not scene.underglass.shot_file:
        cls.poll_message_set("This scene has no shot: open one, or start from art")
        return False
    return True


class NeedsShot:
    """An operator that is greyed out, with the reason, where the scene has no shot."""

    @classmethod
    def poll(cls, context: Any) -> bool:
        return may_work(cls, context)


def failed(operator: Any, scene: Any, line: str) -> Result:
    """Say ``line`` as an error and return what a cancelled operator returns."""
    _keep(scene, line, is_error=True)
    operator.report({"ERROR"}, line)
    return {"CANCELLED"}


def done(operator: Any, scene: Any, line: str) -> Result:
    """Say ``line`` and return what a finished operator returns."""
    _keep(scene, line, is_error=False)
    operator.report({"INFO"}, line)
    return {"FINISHED"}


def _keep(scene: Any, line: str, *, is_error: bool) -> None:
    scene.underglass.message, scene.underglass.is_error = line, is_error
    redraw_till_settled()
