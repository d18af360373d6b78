"""What is handed over: certificates and labels as PDF, tables, records.

Results go in, never a logbook or a bench; files come out as bytes or text, the same each time.
"""
