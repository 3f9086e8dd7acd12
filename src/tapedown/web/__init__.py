"""The office: pages over the use cases, drawn on the server, for one machine or for an office's own network."""
