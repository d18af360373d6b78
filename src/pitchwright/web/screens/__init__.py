"""The screens, each laid out once and then changed as the scene and the live readings change.

They draw what the conductor shows and hand on what people do; nothing is decided here.
"""
