"""The faces in spreadsheets: one list of cell functions, and an adapter for each host."""
