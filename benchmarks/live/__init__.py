"""How the live bench does: surveys, trims, latency, processor time, long listening."""
