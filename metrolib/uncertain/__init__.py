"""Numbers that know how sure they are."""
