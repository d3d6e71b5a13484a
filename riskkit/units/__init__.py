"""Numbers with units as people type them; the thin door to pint. Knows no formula and no record."""

from __future__ import annotations

from riskkit.units.dimensions import Dimension, Scale, scale_of
from riskkit.units.kinds import KINDS, Kind, UnitError, reference_table
from riskkit.units.quantities import Quantity, read_quantity
from riskkit.units.registry import everyday_units

__all__ = [
    "KINDS",
    "Dimension",
    "Kind",
    "Quantity",
    "Scale",
    "UnitError",
    "everyday_units",
    "read_quantity",
    "reference_table",
    "scale_of",
]
