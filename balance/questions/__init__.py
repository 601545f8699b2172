"""What a person may ask of a plan: one module a question, one function and one frozen answer each."""
