"""For eyes and hands: figures, tables and the report."""
