"""One-off against batch as a table, a row for each part; and the sheet of a batch, a row for each line."""

from projects.costs.domain.cost_sheet import CostSheet
from projects.money.unit_cost import AMOUNTS, MachineCost
from projects.site.exports import TableFormat, table_bytes
from projects.site.sheets import Value


def costs_table(sheet: CostSheet, currency: str, form: TableFormat) -> bytes:
    """What one machine costs in the workshop's currency, without tax; a one-off carries all of its development."""
    batches = [sheet.one_off, *sheet.table]
    columns = ["part", f"one-off {currency}", *(f"{cost.machines} made {currency}" for cost in sheet.table)]
    rows: list[list[Value]] = [[name, *amounts] for name, amounts in sheet.rows]
    rows.append(["one machine", *(cost.each for cost in batches)])
    rows.append(["all of them", *(cost.total for cost in batches)])
    return table_bytes(columns, rows, form, title="costs")


def lines_table(cost: MachineCost, currency: str, form: TableFormat) -> bytes:
    """Every line of a batch; the last row has what all of it comes to."""
    money = [f"{name} {currency}" for name in (*AMOUNTS, "total")]
    columns = ["part", "operation", "process", "supplier", "pieces", "ordered", *money]
    rows: list[list[Value]] = [
        [
            part.part,
            line.name,
            str(line.operation.process),
            line.operation.supplier,
            line.entering,
            line.ordered,
            *line.amounts,
            line.total,
        ]
        for part in cost.parts
        for line in part.lines
    ]
    empty: list[Value] = [None] * (len(columns) - 3)
    rows.append(["development", "", *empty, cost.development])
    rows.append([f"all {cost.machines}", "", *empty, cost.total])
    return table_bytes(columns, rows, form, title="sheet")
