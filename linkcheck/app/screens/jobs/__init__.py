"""The jobs page."""
