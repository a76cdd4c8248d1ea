# SPDX-License-Identifier: GPL-3.0-or-later
"""What Blender's module needs from the machine: shared libraries, and the Debian packages that bring them.

Standard library only: the test runner loads this file before anything is installed. Nothing here loads Blender.
"""

import ctypes
import shutil
import subprocess
import sys
from collections.abc import Iterable
from importlib.util import find_spec
from pathlib import Path

# Every library that Blender's module, 4.5 to 5.2, wants from outside of its own package, straight or through another;
# the C library and what comes with it are left out, since Python itself could not start without them.
DEBIAN_PACKAGES = {
    "libGL.so.1": "libgl1",
    "libGLX.so.0": "libglx0",
    "libGLdispatch.so.0": "libglvnd0",
    "libICE.so.6": "libice6",
    "libSM.so.6": "libsm6",
    "libX11.so.6": "libx11-6",
    "libXau.so.6": "libxau6",
    "libXdmcp.so.6": "libxdmcp6",
    "libXext.so.6": "libxext6",
    "libXfixes.so.3": "libxfixes3",
    "libXi.so.6": "libxi6",
    "libXrender.so.1": "libxrender1",
    "libbsd.so.0": "libbsd0",
    "libgcc_s.so.1": "libgcc-s1",
    "libmd.so.0": "libmd0",
    "libstdc++.so.6": "libstdc++6",
    "libuuid.so.1": "libuuid1",
    "libxcb.so.1": "libxcb1",
    "libxkbcommon.so.0": "libxkbcommon0",
}


def blender_module() -> Path | None:
    """Return the file of the installed ``bpy`` module without importing it; None where there is none."""
    spec = find_spec("bpy")
    return Path(spec.origin) if spec and spec.origin else None


def missing_libraries(module: Path | None = None) -> tuple[str, ...]:
    """Return the names of the shared libraries that Blender's ``module`` needs and this machine lacks, sorted.

    Without ``module`` the installed one is asked; where none is installed, or not on Linux, nothing is missing.
    """
    module = module or blender_module()
    if module is None or not sys.platform.startswith("linux"):
        return ()
    ldd = shutil.which("ldd")
    return _unresolved(ldd, module) if ldd else _unloadable(DEBIAN_PACKAGES)


def debian_packages(libraries: Iterable[str]) -> tuple[str, ...]:
    """Return the Debian packages that bring ``libraries``, sorted; a library of no known package is left out."""
    return tuple(sorted({DEBIAN_PACKAGES[name] for name in libraries if name in DEBIAN_PACKAGES}))


def explain_missing(libraries: Iterable[str] | None = None) -> str:
    """Return one line that says what is missing and how to get it; empty when nothing is missing.

    Without ``libraries`` the machine is asked, as ``missing_libraries`` does.
    """
    names = missing_libraries() if libraries is None else tuple(libraries)
    if not names:
        return ""
    packages = debian_packages(names)
    remedy = f"; on Debian: apt-get install {' '.join(packages)}" if packages else ""
    return f"Blender needs {', '.join(names)}, which this machine lacks{remedy}"


def _unresolved(ldd: str, module: Path) -> tuple[str, ...]:
    """Return what ``ldd`` could not find; it follows the libraries of the libraries too."""
    listing = subprocess.run([ldd, str(module)], capture_output=True, text=True, check=False).stdout
    lines = (line.split() for line in listing.splitlines() if line.rstrip().endswith("=> not found"))
    return tuple(sorted({words[0] for words in lines}))


def _unloadable(names: Iterable[str]) -> tuple[str, ...]:
    """Return those of ``names`` that the loader does not find; for machines without ldd."""
    return tuple(sorted(name for name in names if not _loads(name)))


def _loads(name: str) -> bool:
    try:
        ctypes.CDLL(name)
    except OSError:
        return False
    return True
