"""The plumbing as it is put together: every part, what goes into what, and each piece of pipe.

Questions about buying and cutting share it. Nothing here flows.
"""
