"""Asking an archive: questions answered with all that it knows, and what stands beside an answer."""
