"""From bytes on a wire to observations, without I/O."""
