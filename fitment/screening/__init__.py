"""A list of setups judged together: the keep-out of all poses, and very many wheels and tires against it."""
