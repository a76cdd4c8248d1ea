"""Blender as a process of its own, seen from outside."""
