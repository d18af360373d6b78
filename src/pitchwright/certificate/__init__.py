"""What is handed over: sheets and charts as pictures, certificates and labels as PDF, tables.

Results go in, never a logbook or a bench; files come out as bytes or text, the same each time.
"""
