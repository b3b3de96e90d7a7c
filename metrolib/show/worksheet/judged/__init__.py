"""What is known while readings come: doubts, closure, what is open, and the growing picture."""
