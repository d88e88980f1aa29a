"""Tables of what is bought, cut and done, for spreadsheets and programs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from spadework.plan import Plan
from spadework.units import LengthUnit, format_length, unit_label
from spadework.write.tables import whole_sheet

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["cutting_table", "hours_table", "materials_table"]


def materials_table(plan: Plan) -> pd.DataFrame:
    """Return the shopping list, one row for each thing to buy.

    Parameters
    ----------
    plan : Plan
        The plan. Prices and costs stand there as far as prices were given.
    """
    lines = plan.build.materials if plan.build else ()
    columns: dict[str, Sequence[str]] = {
        "key": [line.key for line in lines],
        "what": [line.what for line in lines],
        "quantity": [f"{line.quantity:g}" for line in lines],
        "unit": [line.unit for line in lines],
        "detail": [line.detail for line in lines],
    }
    if plan.build and plan.build.money:
        name = plan.build.money.currency
        unit = f" [{name}]" if name else ""
        columns[f"price{unit}"] = ["" if line.price is None else f"{line.price:.2f}" for line in lines]
        columns[f"cost{unit}"] = ["" if line.cost is None else f"{line.cost:.2f}" for line in lines]
    return whole_sheet(plan, columns)


def cutting_table(plan: Plan) -> pd.DataFrame:
    """Return the cutting list, one row for each piece, in the order in which it is cut from its timber.

    Parameters
    ----------
    plan : Plan
        The plan. A pad without a timber frame has no rows.
    """
    cutting = plan.build.cutting if plan.build else None
    unit = plan.units
    rows = [
        (number, timber, mark, length, timber.offcut if i + 1 == len(timber.marks) else None)
        for number, timber in enumerate(cutting.timbers if cutting else (), 1)
        for i, (mark, length) in enumerate(zip(timber.marks, timber.lengths, strict=True))
    ]
    label = unit_label(unit)
    edge = plan.build.edge if plan.build else None
    saws = {piece.mark: (piece.saw_start, piece.saw_end) for piece in (edge.pieces if edge else ())}
    columns: dict[str, Sequence[str]] = {
        "timber": [str(number) for number, *_ in rows],
        "section": [cutting.section if cutting else "" for _ in rows],
        f"timber length [{label}]": [_length(timber.stock.length, unit) for _, timber, *_ in rows],
        "piece": [mark for _, _, mark, _, _ in rows],
        f"cut to [{label}]": [_length(length, unit) for _, _, _, length, _ in rows],
        "ends sawn off square [°]": [_ends(saws.get(mark, (0.0, 0.0))) for _, _, mark, _, _ in rows],
        f"left over [{label}]": ["" if left is None else _length(left, unit) for *_, left in rows],
    }
    return whole_sheet(plan, columns)


def _ends(saws: tuple[float, float]) -> str:
    """Return how both ends of a piece are sawn: its first end, then its last; nothing where both are square."""
    return "" if not any(saws) else " and ".join(f"{saw:.1f}" if saw else "square" for saw in saws)


def hours_table(plan: Plan) -> pd.DataFrame:
    """Return the hours of work, one row for each task.

    Parameters
    ----------
    plan : Plan
        The plan.
    """
    hours = plan.build.hours if plan.build else None
    tasks = hours.tasks if hours else ()
    columns: dict[str, Sequence[str]] = {
        "task": [task.name for task in tasks],
        "quantity": [f"{task.quantity:.3g}" for task in tasks],
        "unit": ["each" if task.unit == "1" else task.unit for task in tasks],
        "low [h]": [f"{task.hours.low:.1f}" for task in tasks],
        "likely [h]": [f"{task.hours.likely:.1f}" for task in tasks],
        "high [h]": [f"{task.hours.high:.1f}" for task in tasks],
        "share": [f"{hours.share(task):.0%}" for task in tasks] if hours else [],
        "rate": [task.row for task in tasks],
        "source": [task.source for task in tasks],
    }
    return whole_sheet(plan, columns)


def _length(metres: float, unit: LengthUnit) -> str:
    """Return a length as it is cut: to the millimetre or the sixteenth of an inch."""
    return format_length(metres, unit, step=16 if unit is LengthUnit.FOOT_INCH else None, with_unit=False)
