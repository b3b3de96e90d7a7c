"""From nothing to a survey folder: a short form beside a drawing that follows it."""
