"""The traffic page: a capture opened from a file, verdict first; the same widgets show a live bus."""
