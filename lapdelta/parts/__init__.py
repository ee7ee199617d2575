"""Parts: the sprocket box, how far each has run, and what that cost."""
