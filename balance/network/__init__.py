"""The hydraulic network: from a plan to arrays, and from arrays to flows."""
