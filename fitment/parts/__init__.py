"""Wheels, tires, hubs, brakes and what stands around them, each by itself: codes, tables, sizes, outlines."""
