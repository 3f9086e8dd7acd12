"""What people write: facts, visits, corrections, documents, comparisons of tapes."""
