"""What Underglass adds to Blender's windows: settings, operators, panels, and drawing in the viewport."""
