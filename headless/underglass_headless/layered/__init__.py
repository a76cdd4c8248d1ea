"""Layered art without Blender: PSD files, pixels through Pillow, and making a shot of them."""
