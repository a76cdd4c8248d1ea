# SPDX-License-Identifier: GPL-3.0-or-later
"""The art of a shot by its bytes: one digest a level, by which art that was changed is noticed.

No pixels are read here. A file that was saved again with the same pixels may have another digest.
"""

import hashlib

from ..shot.model import Level, Shot

# Said of a file that cannot be read.
_MISSING = "missing"


def art_digests(shot: Shot) -> tuple[str, ...]:
    """Return 64 hexadecimal digits for each level, nearest the lens first.

    They change whenever a byte of an image of that level changes, of any of its drawings too.
    """
    return tuple(_of_level(shot, level) for level in shot.levels)


def _of_level(shot: Shot, level: Level) -> str:
    together = hashlib.sha256()
    for name in shot.art_files(level):
        try:
            with (shot.folder / name).open("rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
        except OSError:
            digest = _MISSING
        together.update(f"{digest}\n".encode())
    return together.hexdigest()
