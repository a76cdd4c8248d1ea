# SPDX-License-Identifier: GPL-3.0-or-later
"""Real Blenders with their windows, on Debian and without a screen: a root each, and a program that enters it.

``python tests/window/roots.py FOLDER`` (as root) makes them below FOLDER and prints the programs, one a line; what is
there already is kept. Debian's releases carry two series of Blender, so both ends of what is supported are tried.
"""

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

# Debian's release, and the series of Blender that it carries.
SERIES = {"sid": "5.2", "trixie": "4.3"}
PACKAGES = (
    *("blender", "python3-numpy", "python3-requests", "python3-zstandard"),
    *("xvfb", "xauth", "imagemagick", "libgl1-mesa-dri", "libegl1"),
)
# Blender's own tool for extensions asks for it from 5.2 on; older releases do not have it.
WANTED = ("python3-cattr",)
SCREEN = "-screen 0 1600x900x24 +extension GLX"

# Enters the root with this machine's files at their own paths; all that is mounted is gone when the program ends.
PROGRAM = """\
#!/usr/bin/env bash
# Blender of Debian {release} under a screen of its own; needs to be root.
set -euo pipefail
export BLENDER_ROOT={root} PROJECT={project}
exec unshare --mount bash -c '
  for place in /proc /dev /tmp "$PROJECT"; do
    mkdir -p "$BLENDER_ROOT$place"
    mount --rbind "$place" "$BLENDER_ROOT$place"
  done
  here=$PWD
  exec chroot "$BLENDER_ROOT" env LIBGL_ALWAYS_SOFTWARE=1 \\
    sh -c "cd \\"\\$0\\" 2>/dev/null || cd /; exec \\"\\$@\\"" "$here" xvfb-run -a -s "{screen}" blender "$@"
' blender "$@"
"""


class RootError(Exception):
    """A root cannot be made, for a reason that fits on one line."""


def ready(folder: Path, release: str, *, project: Path) -> Path:
    """Return the program that runs the Blender of Debian ``release``, made below ``folder`` where it is not there."""
    root, program = folder / f"debian-{release}", folder / f"blender-{SERIES[release]}.root"
    if not (root / "ready").exists():
        make(root, release)
        (root / "ready").touch()
    program.write_text(PROGRAM.format(release=release, root=root, project=project, screen=SCREEN), encoding="utf-8")
    program.chmod(0o755)
    return program


def make(root: Path, release: str) -> None:
    """Make a Debian root with Blender in it; about two minutes."""
    if os.geteuid() != 0:
        raise RootError("a Debian root can only be made as root; name a Blender of yours in UNDERGLASS_BLENDER instead")
    if shutil.which("debootstrap") is None:
        quietly(["apt-get", "install", "--yes", "--no-install-recommends", "debootstrap"])
    shutil.rmtree(root, ignore_errors=True)
    quietly(["debootstrap", "--variant=minbase", release, str(root), mirror()])
    inside = ["chroot", str(root), "env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "--quiet", "--quiet"]
    quietly([*inside, "-o", "Acquire::Check-Valid-Until=false", "update"])
    quietly([*inside, "install", "--yes", "--no-install-recommends", *PACKAGES])
    for package in WANTED:
        subprocess.run([*inside, "install", "--yes", package], capture_output=True, check=False)


def mirror() -> str:
    """Return the Debian mirror that this machine installs from."""
    sources = [*Path("/etc/apt").rglob("*.sources"), *Path("/etc/apt").rglob("*.list")]
    for source in sources:
        for line in source.read_text(encoding="utf-8").splitlines():
            found = re.match(r"(?:URIs:|deb(?: \[[^]]*])?)\s+(\S+)", line)
            if found and "debian" in found[1] and "security" not in found[1]:
                return found[1]
    raise RootError("no Debian mirror is named in this machine's apt sources")


def quietly(command: list[str]) -> None:
    """Run ``command``; raise RootError with its last words where it fails."""
    done = subprocess.run(command, capture_output=True, text=True, stdin=subprocess.DEVNULL, check=False)
    if done.returncode:
        words = (done.stderr or done.stdout).strip().splitlines()
        raise RootError(f"{command[0]} failed: {words[-1] if words else done.returncode}")


def main(folder: Path) -> int:
    """Make every root and print its program, or say why it cannot be had; 0 where at least one is there."""
    folder.mkdir(parents=True, exist_ok=True)
    found = 0
    for release in SERIES:
        try:
            print(ready(folder, release, project=Path(__file__).resolve().parents[2]), flush=True)
            found += 1
        except (RootError, OSError) as error:
            print(f"no Blender of Debian {release}: {error}", file=sys.stderr, flush=True)
    return 0 if found else 1


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]).resolve()))
