"""One view a module, drawn on an axes."""
