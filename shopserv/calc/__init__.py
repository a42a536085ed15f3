"""The arithmetic of the trade: plain values in, plain values out. No table, no page, no clock.

VERSION is the version of the calculation. It is kept beside every stored result, so that a figure can be told from one
that an older calculation made.
"""

VERSION = "1"
