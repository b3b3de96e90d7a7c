"""Ways: from leaving the machine alone to sending it out, side by side."""
