"""The practice page: a simulated truck with a hidden fault, probed freely."""
