"""Unsaved work: what would be lost if a scene's stack were replaced now."""

from typing import Any

from ..shot import UnderglassError
from ..shot.words import first_of
from ..stage import marks
from . import resting

_FEW = 4


def words(scene: Any) -> str:
    """Return what of the stack in ``scene`` is not in its files, in a few words; empty where nothing is."""
    if not scene.underglass.shot_file or not marks.levels(scene):
        return ""
    now = resting.settle(scene)
    if now is None:
        return "what its files no longer say"
    return first_of(now.unsaved, _FEW)


def require_none(scene: Any) -> None:
    """Raise UnderglassError where work in ``scene`` is not saved; it says what there is to do."""
    lost = words(scene)
    if lost:
        raise UnderglassError(
            f"the stack in this scene has work that is not saved: {lost};"
            " save it first, open the other in a new scene, or tick Drop What Is Not Saved"
        )
