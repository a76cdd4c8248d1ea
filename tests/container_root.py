# SPDX-License-Identifier: GPL-3.0-or-later
"""The recipe of the container, tried without a container engine: its commands, one after another, in a Debian root.

``python tests/container_root.py headless/Containerfile FOLDER`` (as root) makes the root below FOLDER with
debootstrap, does there what the recipe says, and proves a shot in it as the recipe's user. FROM is debootstrap's
minimal system of the same release and not the image of that name; layers and caches of an engine are not tried.
"""

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

PROJECT = Path(__file__).resolve().parent.parent


def instructions(recipe: Path) -> Iterator[tuple[str, str]]:
    """Yield the instructions of a recipe: the word that begins each, and the rest on one line."""
    lines = [line for line in recipe.read_text(encoding="utf-8").splitlines() if not line.startswith("#")]
    for line in "\n".join(lines).replace("\\\n", " ").splitlines():
        if line.strip():
            word, _, rest = line.partition(" ")
            yield word, " ".join(rest.split())


def release(recipe: Path) -> str:
    """Return the release of Debian that the recipe begins from."""
    found = re.fullmatch(r"docker\.io/library/debian:([a-z]+)-slim", dict(instructions(recipe))["FROM"])
    assert found, "the recipe begins from a release of Debian"
    return found[1]


def build(recipe: Path, root: Path) -> tuple[dict[str, str], str, str]:
    """Do in ``root`` what the recipe says; return the environment, the user and the folder that it ends with."""
    env = {"PATH": "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin", "HOME": "/root"}
    # How this machine reaches packages is its own affair, and no part of the recipe.
    env |= {name: os.environ[name] for name in os.environ if name.endswith("_proxy")}
    if certificates := os.environ.get("PIP_CERT"):
        shutil.copyfile(certificates, root / "machine.crt")
        env["PIP_CERT"] = "/machine.crt"
    user, folder = "root", "/"
    for word, rest in instructions(recipe):
        print(f"{word} {rest}", flush=True)
        match word:
            case "RUN":
                subprocess.run([*inside(root, user, folder, env), "sh", "-c", rest], check=True)
            case "COPY":
                *names, place = rest.split()
                copy([PROJECT / name for name in names], root / place.lstrip("/"), into=place.endswith("/"))
            case "ENV":
                name, _, value = rest.partition("=")
                env[name] = value
            case "USER":
                user = rest
            case "WORKDIR":
                folder = rest
            case "FROM" | "ENTRYPOINT":
                pass
            case _:
                raise ValueError(f"{word}: is not tried by this program")
    return env, user, folder


def copy(files: list[Path], place: Path, *, into: bool) -> None:
    for file in files:
        target = place / file.name if into else place
        target.parent.mkdir(parents=True, exist_ok=True)
        if file.is_dir():
            shutil.copytree(file, target, ignore=shutil.ignore_patterns("__pycache__"))
        else:
            shutil.copyfile(file, target)


def inside(root: Path, user: str, folder: str, env: dict[str, str]) -> list[str]:
    """Return the words before a command that has it run in the root, as ``user``, in ``folder``."""
    given = [f"{name}={value}" for name, value in env.items()]
    mounted = 'for place in proc dev; do mount --rbind "/$place" "$0/$place"; done; exec chroot "$@"'
    entered = ["unshare", "--mount", "sh", "-e", "-c", mounted, str(root), f"--userspec={user}", str(root)]
    return [*entered, "env", "-i", "-C", folder, *given]


def main(recipe: Path, place: Path) -> int:
    """Make the root, do what the recipe says, prove the calibration shot in it; return its exit status."""
    root = place / "root"
    if not (root / "etc" / "debian_version").exists():
        subprocess.run(["debootstrap", "--variant=minbase", release(recipe), str(root)], check=True)
    env, user, folder = build(recipe, root)
    home = root / folder.lstrip("/")
    shutil.copytree(PROJECT / "scenes" / "calibration", home / "shot", ignore=shutil.ignore_patterns("proof"))
    entry = json.loads(dict(instructions(recipe))["ENTRYPOINT"])
    env |= {"HOME": folder}
    words = [*entry, "prove", "shot", "--out", "/tmp/proof"]
    return subprocess.run([*inside(root, user, folder, env), *words], check=False).returncode


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1]), Path(sys.argv[2]).resolve()))
