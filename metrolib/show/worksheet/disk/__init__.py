"""The folder on disk: the history, the readings file that follows it, several writers at once."""
