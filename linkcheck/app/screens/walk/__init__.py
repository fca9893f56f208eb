"""The walk page."""
