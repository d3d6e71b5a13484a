"""Files of a user become a register, with the place of every value.

This room knows YAML, folders and git. It must not know what a good register is.
"""
