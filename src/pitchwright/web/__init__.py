"""The page: one screen beside the instrument, for someone who holds a screwdriver.

The conductor runs what is asked for and keeps what every screen shows; the door decides who may
come in; screens, looks and words are drawn from the scene and know nothing of threads.
"""
