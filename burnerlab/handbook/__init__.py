"""How is it used, what does it rest on, what changed: the pages of the handbook, for a bench without internet.

A page of prose is a Markdown file of this folder, its topic the stem of the file; its place is a row of
``contents.csv``. A generated page is made from what the program declares, by the function that its row names.
"""
