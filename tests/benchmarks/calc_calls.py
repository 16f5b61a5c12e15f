"""How long Calc takes for a column of add-in calls, beside native formulas and beside one array call.

    PYTHONPATH=.:tests python tests/benchmarks/calc_calls.py [ROWS]

Prints seconds of a hard recalculation (best of five) and their ratio to the native column.
"""
import sys
import tempfile
from pathlib import Path

from libreoffice import LibreOffice

from gritfuncs.addins.calc import build_oxt
from gritfuncs.formulas import catalogue

TIMES = 5
COLUMNS = {"work_rpm": "A", "work_diameter": "B", "infeed_rate": "C", "wheel_speed": "D", "wheel_diameter": "E",
           "grit_density": "G", "shape_ratio": "H"}


def main(rows: int) -> None:
    record = catalogue["plunge_grit_depth"]
    cells = {quantity.name: "F{}" if quantity.name == "side" else COLUMNS[quantity.name] + "{}"
             for quantity in record.arguments}
    first = [cell.format(1) for cell in cells.values()]
    ranges = [f"{letter}1:{letter}{rows}" for letter in COLUMNS.values()]
    ranges.insert(5, "F1")  # one side for all, as users do
    data = {"B1": [[20, 0.6, 25, 200, 1, 20, 10]] * rows}
    changing = {f"A1:A{rows}": "=100+200*RAND()"}  # new work rpm each time, so that no result can be remembered
    cases = {
        "native formula, filled down": {f"J1:J{rows}": "=" + record.text(**dict(zip(cells, first)))},
        "add-in, filled down": {f"J1:J{rows}": f"={record.sheet_name}({';'.join(first)})"},
        "add-in, every call fails": {f"J1:J{rows}": f"={record.sheet_name}({';'.join(['-1'] + first[1:])})"},
        "add-in, one array formula": {f"J1:J{rows}": f"{{={record.sheet_name}({';'.join(ranges)})}}"},
    }
    with tempfile.TemporaryDirectory() as folder, \
            LibreOffice([build_oxt(Path(folder) / "gritfuncs.oxt")]) as office:
        native = None
        print(f"{rows} rows of {record.sheet_name}, {len(cells)} arguments")
        for name, typed in cases.items():
            office.type({**changing, **typed}, data, times=TIMES)
            seconds = min(office.seconds)
            native = native or seconds
            print(f"{name:28} {seconds:8.3f} s {1e6 * seconds / rows:8.1f} us a row {seconds / native:7.1f} x native")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10000)
