"""The build pack for a stranger: one paper with cautions, parts, instruments, steps, cards and forms.

`view` words a register for somebody who builds a unit from it; `printing` makes the paper.
"""
