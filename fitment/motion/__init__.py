"""Where the hub is through travel and steer: the kinds of suspension, the steering axis, and what can be set."""
