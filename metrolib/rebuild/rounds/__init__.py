"""Rounds: how far the work has come, what is left, and what an overcut costs."""
