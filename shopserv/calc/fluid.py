"""Oil volume, exchange and course of the fluid: the front door to `oil`, `exchange` and `stages`."""

from shopserv.calc.exchange import (
    exchange_volume_needed,
    fluid_age_after,
    fresh_fraction_band,
    fresh_fraction_exchange,
    fresh_fraction_passes,
    passes_needed,
    water_after_exchange,
)
from shopserv.calc.oil import (
    cool_down_time,
    fluid_balance,
    level_error_temperature,
    level_error_tilt,
    net_mass,
    oil_volume_at,
    oil_volume_correction,
    weighed_volume,
)
from shopserv.calc.stages import (
    Add,
    Batches,
    Drain,
    Mix,
    Pump,
    Stage,
    StagedExchange,
    UnitLayout,
    staged_exchange,
)

__all__ = [
    "Add",
    "Batches",
    "Drain",
    "Mix",
    "Pump",
    "Stage",
    "StagedExchange",
    "UnitLayout",
    "cool_down_time",
    "exchange_volume_needed",
    "fluid_age_after",
    "fluid_balance",
    "fresh_fraction_band",
    "fresh_fraction_exchange",
    "fresh_fraction_passes",
    "level_error_temperature",
    "level_error_tilt",
    "net_mass",
    "oil_volume_at",
    "oil_volume_correction",
    "passes_needed",
    "staged_exchange",
    "water_after_exchange",
    "weighed_volume",
]
