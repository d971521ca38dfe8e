"""How people drive it: the command line and the job folder.

In: what a person types. Out: a job on disk and its papers.
"""
