"""What was done and read at a machine, kept in one append-only file."""
