"""The pixels of art by way of Blender: reading any image it knows, writing PNG, for the import of layered art."""

import tempfile
from pathlib import Path
from typing import Any

import bpy
import numpy as np
from numpy.typing import NDArray


class BlenderPixels:
    """Straight RGBA of 0 to 1, (H, W, 4) rows from the top, in the file's own encoding (no colour management)."""

    def read(self, source: Path | bytes) -> NDArray[np.float32]:
        """Return the pixels of an image file, or of the bytes of one."""
        if isinstance(source, bytes):
            with tempfile.TemporaryDirectory() as folder:
                path = Path(folder) / "layer.png"
                path.write_bytes(source)
                return self.read(path)
        image = bpy.data.images.load(str(source), check_existing=False)
        try:
            image.colorspace_settings.name = "Non-Color"
            image.alpha_mode = "STRAIGHT"
            width, height = image.size
            flat = np.empty(width * height * 4, dtype=np.float32)
            image.pixels.foreach_get(flat)
            return flat.reshape(height, width, 4)[::-1]
        finally:
            bpy.data.images.remove(image)

    def write(self, path: Path, pixels: Any) -> None:
        """Write straight RGBA of 0 to 1 as an 8-bit PNG."""
        height, width, _ = pixels.shape
        image = bpy.data.images.new(path.stem, width, height, alpha=True)
        try:
            image.colorspace_settings.name = "Non-Color"
            image.alpha_mode = "STRAIGHT"
            image.pixels.foreach_set(np.ascontiguousarray(pixels[::-1], dtype=np.float32).ravel())
            image.filepath_raw, image.file_format = str(path), "PNG"
            image.save()
        finally:
            bpy.data.images.remove(image)
