"""What each spreadsheet host shows, accepts and stores for a function whose sheet name is GRIT_X.

=================  ==============  ===================================
host               typed, shown    stored in the file
=================  ==============  ===================================
Excel, xlwings     GRIT_X          GRIT_X
Excel 365 name     GRIT_X          GRIT_X, a defined name with LAMBDA
Calc extension     GRIT_X          ORG.GRITFUNCS.CELLS.GRIT_X
=================  ==============  ===================================
"""
CALC_SERVICE = "org.gritfuncs.Cells"  # stored in users' files: never to be changed


def calc_stored_name(sheet_name: str) -> str:
    """How Calc writes a function into .ods and .xlsx files, before the opening bracket."""
    return f"{CALC_SERVICE}.{sheet_name}".upper()


def sheet_name(stored: str) -> str:
    """The sheet name, from the name that any host stored."""
    prefix = CALC_SERVICE.upper() + "."
    name = stored.upper()
    return name[len(prefix):] if name.startswith(prefix) else name
