"""The bench worksheet: a survey taken, looked at and decided at the machine."""
