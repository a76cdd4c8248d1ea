# SPDX-License-Identifier: GPL-3.0-or-later
"""What does the work: the versions that a result depends on, and that have to be the same on every machine of a job."""

import hashlib
from functools import lru_cache
from importlib import metadata, resources
from pathlib import Path


@lru_cache(maxsize=1)
def makers() -> tuple[tuple[str, str], ...]:
    """Return (name, version) of Underglass and of Blender, as they are installed here; "none" where one is not.

    A version of Underglass goes on with a digest of its code: between two releases it may measure otherwise.
    """
    return (("Underglass", f"{_version('underglass')} ({_code()})"), ("Blender", _version("bpy")))


def differing(wanted: tuple[tuple[str, str], ...]) -> str:
    """Return in words what here differs from the makers that are ``wanted``; empty where all is the same."""
    here, there = dict(makers()), dict(wanted)
    return " and ".join(
        f"{name} {here.get(name, 'none')} where the job was made with {version}"
        for name, version in there.items()
        if here.get(name) != version
    )


def _version(package: str) -> str:
    try:
        return metadata.version(package)
    except metadata.PackageNotFoundError:
        return "none"


def _code() -> str:
    total = hashlib.sha256()
    for package in ("underglass", "underglass_headless"):
        folder = Path(str(resources.files(package)))
        for file in sorted(folder.rglob("*.py")):
            total.update(file.relative_to(folder).as_posix().encode() + b"\0" + file.read_bytes())
    return total.hexdigest()[:8]
