"""Pages of the network, of a well and of a value; facts, gear, visits, entries."""
