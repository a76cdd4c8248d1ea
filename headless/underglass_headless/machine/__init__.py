"""What a process may use of its machine, and what it needs from it."""
