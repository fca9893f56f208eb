"""Evidence of several kinds in one verdict: what a scope's trace says of the wiring, and which branch is at fault."""
