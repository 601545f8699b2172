"""What a person may ask of a plan: one module, one function, one frozen answer a question."""
