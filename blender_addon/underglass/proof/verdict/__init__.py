"""Whether each level passes, and the proof of it all."""
