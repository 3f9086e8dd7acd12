"""The command line: parse, work, print. The commands by what a person wants to do stand in `commands`."""
