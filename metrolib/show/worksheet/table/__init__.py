"""All readings in a table: corrected in place, left out, brought back, nothing lost."""
