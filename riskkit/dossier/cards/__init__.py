"""Cards for the bench: a register's tests, units and instruments become paper that is written on.

One direction: `choosing` says which cards, `of_tests`, `of_units` and `others` word them as blocks, `filling` cuts blocks
to cards by the sizes in `formats`, `printing` makes HTML and PDF of the cards.
"""
