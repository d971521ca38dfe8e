"""From survey and plan to the papers that people read.

In: survey, plan and photos. Out: PDF, SVG and tables.
"""
