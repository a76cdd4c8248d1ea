"""Layered art: folders of images and OpenRaster files, and the shot that starts from them."""

from .import_art import import_art
from .model import ArtGroup, ArtLayer, LayeredArt
from .pixels import Pixels
from .reading import read_layered

__all__ = ["ArtGroup", "ArtLayer", "LayeredArt", "Pixels", "import_art", "read_layered"]
