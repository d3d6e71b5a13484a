"""What the register says about itself: what leans on what, what one failure does, how the risks lie.

Pure functions of the records. This room knows no files and prints nothing.
"""
