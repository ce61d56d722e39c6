"""The handbook: Markdown pages of `shared/handbook/`, filled in when they are shown.

Pictures and terminal output come from the same code that reads and foresees patterns: `pages.py` fills a page
in, `pictures.py` draws.
"""
