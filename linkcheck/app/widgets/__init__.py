"""Widgets that several pages use. Each draws a finished value and sends a message when something is wanted."""
