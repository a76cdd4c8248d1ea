# SPDX-License-Identifier: GPL-3.0-or-later
"""The recipe of the container, as far as it can be held against the project without an engine to build it."""

import re
import tomllib

import container_root
from underglass_headless.machine.shared_libraries import DEBIAN_PACKAGES

RECIPE = container_root.PROJECT / "headless" / "Containerfile"
PYPROJECT = tomllib.loads((container_root.PROJECT / "pyproject.toml").read_text(encoding="utf-8"))


def test_it_installs_what_blenders_module_needs() -> None:
    installed = next(rest for word, rest in container_root.instructions(RECIPE) if word == "RUN" and "apt-get" in rest)
    assert set(DEBIAN_PACKAGES.values()) <= set(installed.split())


def test_what_it_copies_is_there_and_is_all_that_the_package_is_built_of() -> None:
    copied = {
        name for word, rest in container_root.instructions(RECIPE) if word == "COPY" for name in rest.split()[:-1]
    }
    for name in copied:
        assert (container_root.PROJECT / name).exists()
    built = {
        package.partition("/")[0] for package in PYPROJECT["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"]
    }
    project = PYPROJECT["project"]
    assert copied == built | {"pyproject.toml", project["readme"], *project["license-files"]}


def test_the_program_that_tries_it_knows_every_instruction() -> None:
    words = {word for word, _ in container_root.instructions(RECIPE)}
    assert words <= {"FROM", "RUN", "COPY", "ENV", "USER", "WORKDIR", "ENTRYPOINT"}
    assert re.fullmatch("[a-z]+", container_root.release(RECIPE))


def test_it_does_not_run_as_root() -> None:
    users = [rest for word, rest in container_root.instructions(RECIPE) if word == "USER"]
    assert users
    assert "root" not in users
