"""The terminal: one file a command, one for what is printed."""
