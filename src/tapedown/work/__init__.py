"""Use cases: gather from the record, let the engine decide, write what follows. The only room with a clock."""
