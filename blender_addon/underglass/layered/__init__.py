# SPDX-License-Identifier: GPL-3.0-or-later
"""Layered art: folders of images and OpenRaster files, and the shot that starts from them."""

from .art_layers import ArtGroup, ArtLayer, LayeredArt
from .pixel_port import Pixels
from .read_layered_art import read_layered
from .shot_from_art import import_art

__all__ = ["ArtGroup", "ArtLayer", "LayeredArt", "Pixels", "import_art", "read_layered"]
