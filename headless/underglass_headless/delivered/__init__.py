"""Delivered frames: finding their files, reading them, and the command that proves them without rendering."""
