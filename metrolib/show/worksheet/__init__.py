"""The bench worksheet: readings taken one by one, kept on disk at once, decided upon."""
