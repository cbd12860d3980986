"""One setup on one axle judged: what bolts on, what clears, the ground, the tread's cover, the road."""
