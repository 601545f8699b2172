"""Pictures of answers, drawn with matplotlib: inline in a page, or in a file of their own."""
