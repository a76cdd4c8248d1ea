"""The note that a rendered frame carries in its file: of which shot it is, and which scene and camera it was built for.

One line of text, which Blender puts into the metadata of every frame of a scene that was built, and into the picture
where somebody has metadata burnt in: ``Underglass: shot 3fa9c01d2e4b5a67, "Estuary", scene Scene, camera camera.``
Parts are ``key value``; the title has no key. A value that is more than words of ASCII is quoted as JSON quotes it.
"""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass

_BEGINS = "Underglass: "
# How notes were written before: all of it as JSON, which nobody wants to see in a picture.
_BEGAN = "underglass "
_KEYS = ("shot", "title", "scene", "camera")
_WORDS = re.compile(r"[0-9A-Za-z]+(?: [0-9A-Za-z]+)*")
_KEY = re.compile(r"[a-z]+ ")
_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f]")
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
    """Return ``text`` on one line, without control characters and without what UTF-8 cannot spell."""
    return " ".join(_CONTROL.sub(" ", text.encode("utf-8", "replace").decode("utf-8")).split())


def note_text(note: FrameNote) -> str:
    """Return the note as one line of text."""
    parts = (f"shot {_value(note.shot)}", _quoted(note.title), f"scene {_value(note.scene)}")
    return f"{_BEGINS}{', '.join(parts)}, camera {_value(note.camera)}."


def read_note(text: str) -> FrameNote | None:
    """Return the note that ``text`` holds; None for another program's, or one that was cut off.

    Parts that are not known here, which later versions may add, are left out.
    """
    try:
        facts = dict(_facts(text))
    except (ValueError, RecursionError):
        return None
    if any(not isinstance(facts.get(key), str) for key in _KEYS):
        return None
    return FrameNote(*(facts[key] for key in _KEYS))


def _facts(text: str) -> Iterator[tuple[str, str]]:
    """Yield what a note says, by its keys; raises ValueError for what is none."""
    if text.startswith(_BEGAN):
        told = json.loads(text.removeprefix(_BEGAN))
        yield from told.items() if isinstance(told, dict) else ()
        return
    if not text.startswith(_BEGINS):
        raise ValueError("it is another program's")
    at, said = len(_BEGINS), set()
    while True:
        key = _KEY.match(text, at)
        name, at = (key[0].rstrip(), key.end()) if key else ("title", at)
        if name in said or (not key and not text.startswith('"', at)):
            raise ValueError("it says a thing twice, or what is no part of a note")
        value, at = _value_at(text, at)
        said.add(name)
        yield name, value
        if text[at:] == ".":
            return
        if not text.startswith(", ", at):
            raise ValueError("it was cut off")
        at += 2


def _value_at(text: str, at: int) -> tuple[str, int]:
    """Return the value that begins there, and where it ends."""
    if text.startswith('"', at):
        return json.JSONDecoder().raw_decode(text, at)
    if (words := _WORDS.match(text, at)) is None:
        raise ValueError("it has no value")
    return words[0], words.end()


def _value(text: str) -> str:
    return text if _WORDS.fullmatch(text) else _quoted(text)


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)
