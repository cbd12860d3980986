"""A scan of the vehicle: read from its file, put into the body's frame, and freed of what is not the vehicle."""
