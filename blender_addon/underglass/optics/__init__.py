"""Optics: gates, thin lens and projection as pure functions over arrays."""
