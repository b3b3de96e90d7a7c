"""Readings to heights: the one adjustment that all instruments share."""
