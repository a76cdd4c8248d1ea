# SPDX-License-Identifier: GPL-3.0-or-later
"""The pixels of art by way of Blender, for the import of layered art: reading any image it knows, writing PNG."""

from pathlib import Path
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray

from ..shot import Place, ShotError


class BlenderPixels:
    """Straight RGBA, (H, W, 4) rows from the top, in the file's own encoding: see `layered.pixel_port.Pixels`."""

    def read(self, path: Path) -> NDArray[Any]:
        """Return the pixels of an image file: uint8, or float32 where it has more than 8 bits."""
        image = bpy.data.images.load(str(path), check_existing=False)
        try:
            # By what it means: a studio's colour configuration has another name for it.
            image.colorspace_settings.is_data = True
            image.alpha_mode = "STRAIGHT"
            width, height = image.size
            if not width or not height:
                raise ShotError(Place(path), "holds no pixels that Blender can read", "save it again as PNG")
            flat = np.empty(width * height * 4, dtype=np.float32)
            image.pixels.foreach_get(flat)
            pixels = flat.reshape(height, width, 4)[::-1]
            return pixels if image.is_float else np.rint(pixels * 255).astype(np.uint8)
        finally:
            bpy.data.images.remove(image)

    def write(self, path: Path, array: NDArray[Any]) -> None:
        """Write a PNG file: 8 bits a channel from uint8, 16 from float32."""
        height, width, _ = array.shape
        deep = array.dtype != np.uint8
        image = bpy.data.images.new(path.stem, width, height, alpha=True, float_buffer=deep, is_data=True)
        try:
            image.alpha_mode = "STRAIGHT"
            pixels = array[::-1].astype(np.float32)
            if deep:
                # Blender holds the pixels of a float image with their alpha multiplied in
                pixels[..., :3] *= pixels[..., 3:]
            else:
                pixels /= 255
            image.pixels.foreach_set(pixels.ravel())
            image.filepath_raw, image.file_format = str(path), "PNG"
            image.save()
        finally:
            bpy.data.images.remove(image)
