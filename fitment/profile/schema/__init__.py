"""The keys of a profile, as pydantic models by subject."""
