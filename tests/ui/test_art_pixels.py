# SPDX-License-Identifier: GPL-3.0-or-later
"""Pixels through Blender are those that an image library reads and writes, straight alpha, 8 bits and 16.

Oracle: Pillow for 8 bits, OpenCV for 16.
"""

from pathlib import Path

import cv2
import numpy as np
from PIL import Image

SCRIPT = """
import sys
from pathlib import Path
import numpy as np
from ui import extension
extension.enable()
port = extension.part("ui.art_pixels").BlenderPixels()
folder = Path(sys.argv[1])
kinds = {}
for name in ("bytes", "deep"):
    pixels = port.read(folder / f"{name}.png")
    kinds[name] = str(pixels.dtype)
    np.save(folder / f"{name}.npy", pixels)
    port.write(folder / f"{name} again.png", pixels)
answer(kinds)
"""
# Half a code of 16 bits, as single precision holds it.
HALF_A_CODE = 0.6 / 65535


def test_pixels_come_out_as_they_are_in_the_file_and_go_back_as_they_were(tmp_path: Path, run_in_blender, seed):
    random = np.random.default_rng(seed)
    codes = random.integers(0, 256, (7, 5, 4), dtype=np.uint8)
    # a clear pixel keeps its colour, a half clear one is not darkened by its alpha
    codes[0, 0], codes[0, 1] = (200, 100, 50, 0), (200, 100, 50, 128)
    Image.fromarray(codes, "RGBA").save(tmp_path / "bytes.png")
    deep = random.integers(0, 65536, (7, 5, 4), dtype=np.uint16)
    deep[..., 3] |= 1
    cv2.imwrite(str(tmp_path / "deep.png"), deep[..., [2, 1, 0, 3]])
    assert run_in_blender(SCRIPT, tmp_path) == {"bytes": "uint8", "deep": "float32"}
    assert (np.load(tmp_path / "bytes.npy") == codes).all()
    assert np.abs(np.load(tmp_path / "deep.npy") - deep / 65535).max() <= HALF_A_CODE
    assert (np.asarray(Image.open(tmp_path / "bytes again.png")) == codes).all()
    again = cv2.imread(str(tmp_path / "deep again.png"), cv2.IMREAD_UNCHANGED)[..., [2, 1, 0, 3]]
    assert again.dtype == np.uint16
    assert np.abs(again.astype(int) - deep.astype(int)).max() <= 1
