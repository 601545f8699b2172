"""Balance a pumped salt water system: which valve goes where, and what then flows."""
