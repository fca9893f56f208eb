"""linkcheck: finds why a heavy-duty truck's diagnostic connector does not talk, and proves it."""

__version__ = "0.1.0"
__all__ = ["__version__"]
