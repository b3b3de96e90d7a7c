"""Support: supports, sag, heat, feet, and what a short straightedge hides."""
