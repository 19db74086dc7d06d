"""The shell: threads, clock, signals, and the daemon put together."""
