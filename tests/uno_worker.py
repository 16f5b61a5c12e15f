"""LibreOffice behind a pipe: one JSON request a line in, one JSON answer a line out, until the input ends.

Started by `libreoffice.py` as `uno_worker.py SOFFICE PROFILE`, with a Python that has LibreOffice's bindings.
An error value travels as {"error": "#N/A"}; a formula that shows TRUE as true, though it is a number there.
"""

from __future__ import annotations

import contextlib
import csv
import json
import os
import subprocess
import sys
import tempfile
import time
import traceback

import uno
from com.sun.star.beans import PropertyValue

ERRORS = {502: "#NUM!", 504: "#VALUE!", 508: "#VALUE!", 511: "#VALUE!", 521: "#NULL!", 522: "#REF!", 523: "#NUM!"}
TRUTHS = {
    **dict.fromkeys(("TRUE", "WAHR", "VRAI", "VERO", "PRAWDA"), True),
    **dict.fromkeys(("FALSE", "FALSCH", "FAUX", "FALSO", "FAŁSZ"), False),
}
ERROR_CELLS = 4  # com.sun.star.sheet.FormulaResult.ERROR
START_SECONDS = 90


def properties(**values):
    found = []
    for name, value in values.items():
        item = PropertyValue()
        item.Name, item.Value = name, value
        found.append(item)
    return tuple(found)


def letters(column):
    text = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        text = chr(ord("A") + rest) + text
    return text


class Office:
    def __init__(self, soffice, profile):
        pipe = f"gritfuncs{os.getpid()}"
        self.process = subprocess.Popen(
            [
                soffice,
                "-env:UserInstallation=" + uno.systemPathToFileUrl(profile),
                "--headless",
                "--norestore",
                "--nologo",
                "--nodefault",
                f"--accept=pipe,name={pipe};urp;",
            ],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            start_new_session=True,
        )
        local = uno.getComponentContext()
        resolver = local.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", local)
        end = time.monotonic() + START_SECONDS
        while True:
            try:
                self.context = resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
                break
            except Exception:  # uno's own class is only known once it is connected
                if time.monotonic() > end:
                    self.process.kill()
                    raise
                time.sleep(0.1)
        self.desktop = self.create("com.sun.star.frame.Desktop")

    def create(self, service):
        return self.context.ServiceManager.createInstanceWithContext(service, self.context)

    def open(self, path=None):
        url = uno.systemPathToFileUrl(path) if path else "private:factory/scalc"
        document = self.desktop.loadComponentFromURL(url, "_blank", 0, properties(Hidden=True))
        if document is None:
            raise RuntimeError(f"LibreOffice cannot load {path}")
        return document

    def close(self):
        with contextlib.suppress(Exception):  # the connection ends with the office
            self.desktop.terminate()
        try:
            self.process.wait(20)
        except subprocess.TimeoutExpired:
            self.process.kill()


def store(document, path, filter_name):
    document.storeToURL(uno.systemPathToFileUrl(path), properties(FilterName=filter_name))


def used_range(sheet):
    cursor = sheet.createCursor()
    cursor.gotoEndOfUsedArea(False)
    end = cursor.RangeAddress
    return sheet.getCellRangeByPosition(0, 0, end.EndColumn, end.EndRow)


def texts(document, place):
    """What the cells of a sheet show, row by row: in one go, a call for each cell is slow."""
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "sheet.csv")
        options = f"44,34,76,1,,0,false,true,false,false,false,{place + 1}"  # comma, quote, UTF-8, as shown, this sheet
        url = uno.systemPathToFileUrl(path)
        document.storeToURL(url, properties(FilterName="Text - txt - csv (StarCalc)", FilterOptions=options))
        (written,) = os.listdir(folder)  # it has the sheet in its name
        with open(os.path.join(folder, written), encoding="utf-8", newline="") as file:
            return list(csv.reader(file))


def text_by_cell(cells):
    return lambda row, column: cells.getCellByPosition(column, row).String


def read(cells, shown):
    """({address: value}, {address: formula}) of the cells in a range that are not blank; `shown` gives a cell's text."""
    corner = cells.RangeAddress
    wrong = {
        (row - corner.StartRow, column - corner.StartColumn)
        for area in cells.queryFormulaCells(ERROR_CELLS).RangeAddresses
        for row in range(area.StartRow, area.EndRow + 1)
        for column in range(area.StartColumn, area.EndColumn + 1)
    }
    values, formulas = {}, {}
    for row, (data, inside) in enumerate(zip(cells.getDataArray(), cells.getFormulaArray())):
        for column, (value, text) in enumerate(zip(data, inside)):
            if text == "":
                continue
            address = f"{letters(column + corner.StartColumn)}{row + corner.StartRow + 1}"
            if text[0] in "={":
                formulas[address] = text
                if (row, column) in wrong:
                    value = {"error": error(shown(row, column))}
                elif value in (0.0, 1.0):
                    value = TRUTHS.get(shown(row, column), value)
            values[address] = value
    return values, formulas


def error(text):
    return ERRORS.get(int(text[4:]), text) if text.startswith("Err:") else text


def recalculate(office, request):
    document = office.open(request["path"])
    found = {}
    try:
        document.calculateAll()
        for place, sheet in enumerate(document.Sheets):
            rows = texts(document, place)
            found[sheet.Name] = read(used_range(sheet), lambda row, column, rows=rows: rows[row][column])
    finally:
        document.close(True)
    return {
        "values": {name: values for name, (values, _) in found.items()},
        "formulas": {name: formulas for name, (_, formulas) in found.items()},
    }


def convert(office, request):
    document = office.open(request["path"])
    try:
        document.calculateAll()
        wanted = request["sheets"] or document.Sheets.ElementNames
        for name in wanted:
            document.Sheets.getByName(name).IsVisible = True
        for sheet in document.Sheets:
            if sheet.Name not in wanted:
                sheet.setPrintAreas(())  # a hidden sheet that has a print area is printed all the same
                sheet.IsVisible = False
        store(document, request["output"], request["filter"])
    finally:
        document.close(True)
    return {}


def put_constants(sheet, first, rows):
    corner = sheet.getCellRangeByName(first).RangeAddress
    numbers = all(type(value) in (int, float) for values in rows for value in values)
    if numbers and len(set(map(len, rows))) == 1:  # in one go: a call for each cell is slow
        sheet.getCellRangeByPosition(
            corner.StartColumn, corner.StartRow, corner.StartColumn + len(rows[0]) - 1, corner.StartRow + len(rows) - 1
        ).setDataArray(tuple(map(tuple, rows)))
        return
    for row, values in enumerate(rows, corner.StartRow):
        for column, value in enumerate(values, corner.StartColumn):
            cell = sheet.getCellByPosition(column, row)
            if isinstance(value, bool):
                cell.setFormula(f"={value}()".upper())
            elif isinstance(value, (int, float)):
                cell.setValue(float(value))
            elif value is not None and value.startswith("="):
                cell.setFormula(value)
            elif value is not None:
                cell.setString(value)


def put_formula(sheet, place, formula):
    cells = sheet.getCellRangeByName(place)
    if formula.startswith("{="):
        cells.setArrayFormula(formula[1:-1])
        return
    corner = cells.RangeAddress
    cells.getCellByPosition(0, 0).setFormula(formula)
    if corner.EndRow > corner.StartRow:
        cells.fillAuto(uno.Enum("com.sun.star.sheet.FillDirection", "TO_BOTTOM"), 1)


def type_formulas(office, request):
    document = office.open()
    try:
        sheet = document.Sheets.getByIndex(0)
        for first, rows in request["data"].items():
            put_constants(sheet, first, rows)
        for place, formula in request["formulas"].items():
            put_formula(sheet, place, formula)
        seconds = []
        for _ in range(request["times"]):
            start = time.perf_counter()
            document.calculateAll()
            seconds.append(time.perf_counter() - start)
        values = {}
        for place in request["formulas"]:
            cells = sheet.getCellRangeByName(place)
            values.update(read(cells, text_by_cell(cells))[0])
        if request["save"]:
            store(document, *request["save"])
    finally:
        document.close(True)
    return {"values": values, "seconds": seconds}


def functions(office, request):
    descriptions = office.create("com.sun.star.sheet.FunctionDescriptions")
    found = []
    for place in range(descriptions.getCount()):
        entry = {item.Name: item.Value for item in descriptions.getByIndex(place)}
        if request["word"].upper() in entry["Name"].upper():
            arguments = [[item.Name, item.Description, bool(item.IsOptional)] for item in entry["Arguments"] or ()]
            found.append([entry["Name"], entry["Description"], arguments])
    return {"functions": found}


COMMANDS = {"recalculate": recalculate, "convert": convert, "type": type_formulas, "functions": functions}


def main():
    office = Office(*sys.argv[1:3])
    print(json.dumps({}), flush=True)
    try:
        for line in sys.stdin:
            request = json.loads(line)
            try:
                answer = COMMANDS[request["command"]](office, request)
            except Exception:  # noqa: BLE001 - whatever LibreOffice does not like is the caller's to read
                answer = {"failed": traceback.format_exc()}
            print(json.dumps(answer), flush=True)
    finally:
        office.close()


if __name__ == "__main__":
    main()
