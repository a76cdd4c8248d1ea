"""The note that a rendered frame carries in its file: of which shot it is, and which scene and camera it was built for.

One line of text, which Blender puts into the metadata of every frame of a scene that was built.
"""

import json
from dataclasses import dataclass

_BEGINS = "underglass "
# Blender cuts a note off at 768 bytes; a letter has at most four.
_MOST_TITLE, _MOST_NAME = 60, 48


@dataclass(frozen=True)
class FrameNote:
    """``shot`` is the fingerprint of the shot's files; long titles and names are cut."""

    shot: str
    title: str
    scene: str
    camera: str

    @classmethod
    def of(cls, *, shot: str, title: str, scene: str, camera: str) -> "FrameNote":
        """Return a note whose title and names are cut to the length that it has room for."""
        return cls(shot, spelled(title)[:_MOST_TITLE], shortened(scene), shortened(camera))


def shortened(name: str) -> str:
    """Return the name of a scene or a camera as a note holds it."""
    return spelled(name)[:_MOST_NAME]


def spelled(text: str) -> str:
    """Return ``text`` on one line and without what UTF-8 cannot spell."""
    return " ".join(text.encode("utf-8", "replace").decode("utf-8").split())


def note_text(note: FrameNote) -> str:
    """Return the note as one line of text."""
    facts = {"shot": note.shot, "title": note.title, "scene": note.scene, "camera": note.camera}
    return _BEGINS + json.dumps(facts, ensure_ascii=False)


def read_note(text: str) -> FrameNote | None:
    """Return the note that ``text`` holds; None for another program's, or one that was cut off."""
    if not text.startswith(_BEGINS):
        return None
    try:
        facts = json.loads(text.removeprefix(_BEGINS))
    except (ValueError, RecursionError):
        return None
    if not isinstance(facts, dict) or any(
        not isinstance(facts.get(key), str) for key in ("shot", "title", "scene", "camera")
    ):
        return None
    return FrameNote(facts["shot"], facts["title"], facts["scene"], facts["camera"])
