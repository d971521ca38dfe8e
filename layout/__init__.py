"""From what stands on the walls to what will be built.

In: a survey and a scheme. Out: members at exact places, verdicts on every box, and what could be done.
"""
