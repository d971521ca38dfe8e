"""From photographs to what stands on each wall.

In: photos with printed cards, taps and tape readings. Out: every place in wall inches with its plus-or-minus.
"""
