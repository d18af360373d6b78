"""What an hour of eight channels at 96 kHz costs to hear, in memory and CPU."""
