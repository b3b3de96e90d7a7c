"""What was measured: machine, instruments, traverses, readings, and the folder that holds them."""
