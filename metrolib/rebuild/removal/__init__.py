"""The removal: the least that makes the faces true, its guard, and what it rests on."""
