"""Writing results: a file appears whole or not at all, and an earlier one stays until the new one is complete.

What is written is the business of the other modules of this room.
"""

import contextlib
import os
import secrets
from pathlib import Path

from underglass.shot import UnderglassError

# Leaves room for the rest of a temporary name in the 255 bytes that file systems allow, in any script.
_MOST_NAME = 48


class ResultError(UnderglassError):
    """A result cannot be written: one line with the path and the reason."""


def write_text(path: Path, text: str) -> None:
    """Put ``text`` into the file ``path`` as UTF-8, line ends as they are; raises ResultError.

    What UTF-8 cannot spell (half a character, from a file name in another encoding) is written as ``\\udc80``, which
    JSON reads back as what it was.
    """
    write_bytes(path, text.encode("utf-8", errors="backslashreplace"))


def write_bytes(path: Path, data: bytes) -> None:
    """Put ``data`` into the file ``path``, making its folder where needed; raises ResultError.

    Written beside its place and renamed into it. A link is followed: the file that it points to is replaced.
    """
    part: Path | None = None
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        target = path.resolve()
        part = target.with_name(f".{target.name[:_MOST_NAME]}.{secrets.token_hex(4)}.part")
        _write_through(part, data)
        part.replace(target)
    except (OSError, RuntimeError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        text = f"{path}: cannot be written: {reason}; choose a place that can be written and has room"
        raise ResultError(" ".join(text.split())) from error
    finally:
        if part is not None:
            with contextlib.suppress(OSError):
                part.unlink(missing_ok=True)


def _write_through(path: Path, data: bytes) -> None:
    """Write a new file through to the disk, so that a rename never uncovers an empty one after a power cut."""
    with path.open("xb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
