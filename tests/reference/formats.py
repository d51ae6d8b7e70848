"""Reads one results folder with the readers that labs use, and says where any differs from what was measured.

Question: folder, and for each table its columns with their values (null for missing). Parquet is read by pyarrow and
by DuckDB, the workbook by openpyxl, CSV by pandas, JSON by the standard library, exchange channels by the reader below.
Numbers must be equal to the last bit; in CSV to nine significant digits.
"""

import json
import math
import pathlib
import sys

import duckdb
import openpyxl
import pandas
import pyarrow.parquet

WORKBOOK_NAMES = {"findings": "Findings", "crosscheck": "Crosscheck", "events": "Events", "motion": "Motion", "marks": "Marks"}


def missing(value):
    return value is None or (isinstance(value, float) and math.isnan(value))


def differences(reader, table, column, read, expected, same=lambda a, b: a == b):
    if len(read) != len(expected):
        return [f"{reader} {table}.{column}: {len(read)} rows, not {len(expected)}"]
    found = []
    for row, (ours, theirs) in enumerate(zip(expected, read)):
        if ours is None and not missing(theirs):
            found.append(f"{reader} {table}.{column} row {row}: {theirs!r} where nothing is")
        elif ours is not None and (missing(theirs) or not same(ours, theirs)):
            found.append(f"{reader} {table}.{column} row {row}: {theirs!r}, not {ours!r}")
    return found


def as_double(ours, theirs):
    """Cells of a workbook are doubles; openpyxl makes an integer of one that is written without a point."""
    return ours == (float(theirs) if isinstance(ours, float) and type(theirs) is int else theirs)


def nine_digits(ours, theirs):
    if isinstance(ours, bool) or not isinstance(ours, (int, float)):
        return ours == theirs
    return float(f"{ours:.8e}") == float(theirs)


def exchange(header):
    """An exchange folder after ISO/TS 13499: 'key :value' lines, then one value a line; names of channels in the .chn."""

    def lines(path):
        pairs = []
        rows = path.read_text(encoding="utf-8").splitlines()
        while rows and ":" in rows[0]:
            key, value = rows.pop(0).split(":", 1)
            pairs.append((key.strip(), value.strip()))
        return dict(pairs), rows

    test, _ = lines(header)
    folder = header.parent / "Channel"
    index, _ = lines(folder / f"{header.stem}.chn")
    channels = {}
    for key, code in index.items():
        if key.startswith("Name of channel"):
            number = key.split()[-1]
            about, values = lines(folder / f"{header.stem}.{number}")
            assert about["Channel code"] == code and about["Reference channel"] == "implicit", about
            assert int(about["Number of samples"]) == len(values), about
            channels[code] = {
                "unit": about["Unit"],
                "start_s": float(about["Time of first sample"]),
                "step_s": float(about["Sampling interval"]),
                "values": [float(value) for value in values],
            }
    assert int(index["Number of channels"]) == len(channels)
    return test, channels


def main():
    question = json.load(sys.stdin)
    folder = pathlib.Path(question["folder"])
    book = openpyxl.load_workbook(folder / "results.xlsx", read_only=False)
    whole = json.loads((folder / "tables.json").read_text(encoding="utf-8"))
    meanings = {table["name"]: {c["name"]: c["meaning"] for c in table["columns"]} for table in whole["tables"]}
    in_json = {table["name"]: {c["name"]: c["values"] for c in table["columns"]} for table in whole["tables"]}
    found, compared = [], 0
    for table, columns in question["tables"].items():
        path = folder / f"{table}.parquet"
        arrow = pyarrow.parquet.read_table(path)
        duck = duckdb.sql(f"SELECT * FROM '{path}'").fetchall()
        duck_names = [entry[0] for entry in duckdb.sql(f"DESCRIBE SELECT * FROM '{path}'").fetchall()]
        csv = pandas.read_csv(folder / f"{table}.csv", skiprows=[1], keep_default_na=False, na_values=[""])
        units = pandas.read_csv(folder / f"{table}.csv", nrows=1, header=None, skiprows=1, keep_default_na=False)
        sheet = list(book[WORKBOOK_NAMES[table]].iter_rows(values_only=True))
        told = arrow.schema.metadata
        for place, (column, entry) in enumerate(columns.items()):
            expected, unit = entry["values"], entry["unit"]
            at_column = arrow.schema.field(column).metadata
            found += [] if at_column.get(b"unit", b"").decode() == unit else [f"parquet {column}: unit of the field"]
            meaning = at_column[b"meaning"].decode()
            found += [] if meaning == meanings[table][column] else [f"parquet {column}: meaning of the field"]
            if unit:
                found += [] if told[f"unit.{column}".encode()].decode() == unit else [f"parquet {column}: unit"]
                found += [] if str(units.iloc[0, list(csv.columns).index(column)]) == unit else [f"csv {column}: unit"]
                found += [] if sheet[1][sheet[0].index(column)] == unit else [f"xlsx {column}: unit"]
            in_duck = duck_names.index(column)
            in_sheet = sheet[0].index(column)
            found += differences("pyarrow", table, column, arrow.column(column).to_pylist(), expected)
            found += differences("duckdb", table, column, [row[in_duck] for row in duck], expected)
            found += differences("openpyxl", table, column, [row[in_sheet] for row in sheet[2:]], expected, as_double)
            found += differences("json", table, column, in_json[table][column], expected)
            found += differences("pandas", table, column, csv[column].tolist(), expected, nine_digits)
            compared += 5 * len(expected)
        found += [] if b"time base" in told and b"frame numbers" in told else [f"{table}: no conventions"]
    charts = sum(len(sheet._charts) for sheet in book.worksheets)
    test, channels = exchange(pathlib.Path(question["exchange"]))
    json.dump(
        {
            "found": found[:20],
            "compared": compared,
            "charts": charts,
            "sheets": book.sheetnames,
            "conventions": [row[0] for row in book["Conventions"].iter_rows(values_only=True) if row[0]],
            "exchange": {"test": test, "channels": channels},
        },
        sys.stdout,
    )


main()
