"""Everything that is drawn: charts of what was measured, as SVG, and as blocks in a terminal.

Values go in, text comes out; no file is read or written here. One pen, one palette, one rule for
ticks and one keyboard strip serve the file, the page and the paper.
"""
