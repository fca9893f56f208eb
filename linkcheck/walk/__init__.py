"""The walk: which check comes next, what its reading means, and when a cause is proven."""
