"""The shell around the core: read, call the core, write; one module per rule of the workflow."""
