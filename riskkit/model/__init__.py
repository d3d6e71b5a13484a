"""What a register is: frozen records, their references, the policy, the register as a whole.

This room knows no files, no positions and no printing.
"""
