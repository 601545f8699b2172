"""Ways to balance a system, each acting on it as a keeper would."""
