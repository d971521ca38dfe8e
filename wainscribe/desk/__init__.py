"""The pages: the whole job in a browser, on the laptop and on the phone beside it.

What enters are requests; what leaves are pages, JSON and pictures. Everything is done by `wainscribe.actions`.
"""
