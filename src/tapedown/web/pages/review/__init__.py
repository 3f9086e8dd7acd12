"""Pages of the review queue and of sign-offs."""
