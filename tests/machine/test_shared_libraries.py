# SPDX-License-Identifier: GPL-3.0-or-later
"""A machine that lacks a library of Blender's hears which package to install."""

import subprocess
import sys

import pytest

from underglass_headless.machine import shared_libraries

LISTING = """\
\tlinux-vdso.so.1 (0x00007ffd)
\tlibX11.so.6 => /lib/libX11.so.6 (0x00007f01)
\tlibxkbcommon.so.0 => not found
\tlibXi.so.6 => not found
\tlibXi.so.6 => not found
"""

# what Python itself could not start without
C_LIBRARY = {"libc.so.6", "libm.so.6", "libdl.so.2", "libpthread.so.0", "librt.so.1", "libutil.so.1"}

linux_only = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="shared libraries of Linux")


@pytest.fixture
def fake_ldd(tmp_path, monkeypatch):
    """Put an ldd first on PATH that answers with ``LISTING``."""
    ldd = tmp_path / "ldd"
    ldd.write_text(f"#!/bin/sh\ncat <<'END'\n{LISTING}END\n")
    ldd.chmod(0o755)
    monkeypatch.setenv("PATH", str(tmp_path), prepend=":")


@linux_only
@pytest.mark.usefixtures("fake_ldd")
def test_libraries_that_the_loader_does_not_find_are_named_once(tmp_path):
    assert shared_libraries.missing_libraries(tmp_path / "bpy.so") == ("libXi.so.6", "libxkbcommon.so.0")


@linux_only
def test_without_ldd_the_loader_itself_is_asked(tmp_path, monkeypatch):
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(shared_libraries, "DEBIAN_PACKAGES", {"libnothing.so.7": "libnothing7", "libm.so.6": "libc6"})
    assert shared_libraries.missing_libraries(tmp_path / "bpy.so") == ("libnothing.so.7",)


def test_one_line_says_what_is_missing_and_what_brings_it():
    assert shared_libraries.explain_missing(["libXi.so.6"]) == (
        "Blender needs libXi.so.6, which this machine lacks; on Debian: apt-get install libxi6"
    )


def test_a_library_of_no_known_package_is_named_without_a_remedy():
    assert shared_libraries.explain_missing(["libodd.so.1"]) == "Blender needs libodd.so.1, which this machine lacks"


def test_nothing_missing_is_nothing_to_say():
    assert shared_libraries.explain_missing([]) == ""


@linux_only
def test_this_machine_has_all_that_the_installed_blender_needs():
    assert shared_libraries.blender_module() is not None
    assert shared_libraries.explain_missing() == ""
    assert "bpy" not in sys.modules


@linux_only
def test_every_outside_library_of_the_installed_blender_has_a_package():
    module = shared_libraries.blender_module()
    listing = subprocess.run(["ldd", module], capture_output=True, text=True, check=True).stdout
    found = [line.split() for line in listing.splitlines() if " => " in line]
    outside = {name for name, _, path, *_ in found if not path.startswith(str(module.parent))}
    assert "libX11.so.6" in outside
    assert outside - C_LIBRARY <= set(shared_libraries.DEBIAN_PACKAGES)
