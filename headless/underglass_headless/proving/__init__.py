"""A proof from a shot file, by whichever engine, and the command that asks for it."""
