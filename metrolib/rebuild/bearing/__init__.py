"""Bearing: spots counted by hand or on a photograph, and the print log."""
