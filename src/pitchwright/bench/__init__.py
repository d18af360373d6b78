"""The outside world behind small protocols: where sound comes from and how notes are played."""
