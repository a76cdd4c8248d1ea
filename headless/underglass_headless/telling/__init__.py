"""What a run says while it runs and as it ends."""
