"""Form to work: how much comes off, where."""
