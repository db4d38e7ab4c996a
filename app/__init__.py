"""The Qt front end. It may import core; nothing imports it."""

__version__ = "0.2.0"
