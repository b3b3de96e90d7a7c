"""Acceptance: tolerances, and whether each is met, not met, or not decided."""
