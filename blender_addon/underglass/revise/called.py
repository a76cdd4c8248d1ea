# SPDX-License-Identifier: GPL-3.0-or-later
"""What each level of a shot is called in a later state of it: one that was renamed is the one that it was."""

from ..shot.model import Shot


def called_now(before: Shot, after: Shot) -> dict[str, str]:
    """Return what each level of ``before`` is called in ``after``; one that has gone is left out.

    A level that is new there under another name, with the same art, is the one that was.
    """
    called = {name: name for name in before.names if name in after.names}
    fresh = [level for level in after.levels if level.name not in called]
    for level in before.levels:
        if level.name not in called:
            same = next((one for one in fresh if (one.art, one.art_px) == (level.art, level.art_px)), None)
            if same is not None:
                called[level.name] = same.name
                fresh.remove(same)
    return called
