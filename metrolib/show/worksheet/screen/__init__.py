"""What is on the screen: the frame, its look, the entry field, and the taking of readings."""
