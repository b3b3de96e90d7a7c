"""Lowering: what it does to all that rides on the ways, and how to restore it."""
