"""What runs in a process that holds Blender."""
