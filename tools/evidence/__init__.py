"""The evidence page: what the published tests recorded, in words, tables and pictures."""
