"""What files of frames say: names and numbers, channels, proof passes."""
