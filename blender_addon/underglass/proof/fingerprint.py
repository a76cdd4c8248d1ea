"""The fingerprint of a shot: what a .blend was built from, so that a later change of the shot's files is noticed."""

import hashlib

from ..shot import Shot, drawings_csv, schedule_csv, shot_toml


def fingerprint(shot: Shot) -> str:
    """Return 16 hexadecimal digits that change whenever anything changes that the shot's files say."""
    text = "\0".join((shot_toml(shot), schedule_csv(shot), drawings_csv(shot)))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:16]
