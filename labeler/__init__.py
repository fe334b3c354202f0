"""Labels, card-backs and lots for a maker who ties jigs by hand.

Holds the version and nothing else, so that no room ever imports from here.
"""

__version__ = "0.1.0"
