"""Water, gravity, the path along a hole, what heat and pull do to a tape."""
