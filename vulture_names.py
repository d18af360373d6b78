"""Names the dead-code check would call unused although something does use them, and what does."""
