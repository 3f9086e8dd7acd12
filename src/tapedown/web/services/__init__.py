"""Services for programs, read only, beside the pages: OGC API Features and SensorThings, fed by the same reductions."""
