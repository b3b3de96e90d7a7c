"""The decision changed step by step, what each step comes to, and options beside it."""
