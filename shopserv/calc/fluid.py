"""Oil volume, exchange and course of the fluid: the front door to `oil`, `exchange` and `stages`."""

from shopserv.calc.stages import (
    Add,
    Batches,
    Drain,
    Mix,
    Pump,
    Stage,
    StagedExchange,
    UnitLayout,
)

__all__ = ["Add", "Batches", "Drain", "Mix", "Pump", "Stage", "StagedExchange", "UnitLayout"]
