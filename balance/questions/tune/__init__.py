"""The walk from where handles stand to the targets, a handle at a time."""
