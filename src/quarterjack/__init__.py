"""quarterjack tells a clock restorer what a clock should do, listens to what it does, and says why the two differ."""

__version__ = "0.1.0"
