"""What pixels and the evaluated scene show, whatever was planned."""
