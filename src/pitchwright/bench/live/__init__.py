"""The live bench: sound and control voltage through an audio interface, notes by MIDI or voltage.

PortAudio and the MIDI system are looked up when first used; nothing else of the tool needs them.
"""
