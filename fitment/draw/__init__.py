"""Pictures: views drawn on an axes, sheets of several views, and how they become files.

The only package that imports matplotlib; other rooms import a module of it where they draw, so that a picture costs no
more than what it shows.
"""
