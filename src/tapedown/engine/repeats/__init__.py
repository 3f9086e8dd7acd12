"""Whether repeats agree, and which of them count."""
