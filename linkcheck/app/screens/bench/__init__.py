"""The bench page: an adapter tested against a second one, or a simulated one."""
