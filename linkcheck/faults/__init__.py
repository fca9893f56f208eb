"""Faults of the data link as data: what they are called, how likely, what proves and repairs them."""
