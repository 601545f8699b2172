"""What plumbing is made of: one module a kind of part, each a table and pure loss laws."""
