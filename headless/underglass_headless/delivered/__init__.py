"""Frames rendered elsewhere, proved without rendering: the command, and how each frame is looked at."""
