# SPDX-License-Identifier: GPL-3.0-or-later
"""Replacing files as a set: all are written beside their places first, and then renamed into them."""

import contextlib
import os
import secrets
from collections.abc import Mapping
from pathlib import Path

from ..errors import Place, ShotError


def replace_files(texts: Mapping[Path, str]) -> None:
    """Put each text into its file as UTF-8; where one cannot be written, ShotError is raised and no file is changed.

    Only the renames at the end can leave a new file beside an old one, and never a file half written.
    """
    waiting: dict[Path, Path] = {}
    path = Path()
    try:
        for path, text in texts.items():
            path.parent.mkdir(parents=True, exist_ok=True)
            # A link is followed, so that the file it points to is the one that is replaced.
            target = path.resolve()
            waiting[target] = target.with_name(f".{target.name[:64]}.{secrets.token_hex(4)}.part")
            write_through(waiting[target], text.encode("utf-8"))
        for path, part in waiting.items():
            part.replace(path)
    except (OSError, RuntimeError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise ShotError(Place(path), f"cannot be written ({reason})", "choose a folder that can be written") from error
    finally:
        for part in waiting.values():
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)


def write_through(path: Path, data: bytes) -> None:
    """Write a new file through to the disk, so that a rename never uncovers an empty one after a power cut."""
    with path.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
