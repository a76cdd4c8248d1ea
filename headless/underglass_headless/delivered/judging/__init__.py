"""What is wrong with delivered frames, and the verdict on them. Free of files."""
