"""pulsebridge: exact lengths for parts whose cycles differ, and the way out of the head."""
