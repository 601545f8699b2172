"""The file that a person writes: its fields, and the way from text to a plan."""
