"""Pure analyses: a record of readings in, one frozen result out. Here with arrays; no database, files or clock."""
