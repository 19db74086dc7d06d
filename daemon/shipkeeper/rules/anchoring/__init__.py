"""The mathematics of lying at anchor: reach of the rode, where the boat is, where the anchor is.

Everything here is plain arithmetic on floats in a flat plane of metres about the mark: no
clock, no latitude, no units but SI. `estimator.py` is the door; `rules/drag.py` is its caller.
"""
