"""Walks on systems that are not as planned: how often, and in how many moves, targets are met."""
