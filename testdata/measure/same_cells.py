"""Writes the cells of a workbook again with XlsxWriter: values, formulas, styles, heights,
merged cells, names, rules that fill verdicts and rules of what is typed. Charts, pictures,
links and what the workbook carries beside its sheets are left out. Prints the processor
time in milliseconds that writing took, without reading the workbook, and the cells written.

    python3 same_cells.py WORKBOOK NEW

Both sides stream: XlsxWriter runs with constant_memory.
"""

import re
import sys
import time
import zipfile
from xml.etree.ElementTree import fromstring, iterparse

import xlsxwriter

M = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
BATCH = 500  # rows between two looks at the clock
spent, cells = 0.0, 0
styles_of = {}


def timed(work, *args):
    global spent
    began = time.process_time()
    out = work(*args)
    spent += time.process_time() - began
    return out


def place(ref):
    letters, row = re.match(r"([A-Z]+)([0-9]+)", ref).groups()
    col = 0
    for c in letters:
        col = col * 26 + ord(c) - 64
    return int(row) - 1, col - 1


LINES = {"thin": 1, "medium": 2, "dashed": 3, "dotted": 4, "thick": 5, "double": 6, "hair": 7}


def looks(book, sheet):
    """The formats of the workbook, by number."""
    fonts, fills, borders = (sheet.find(M + n) for n in ("fonts", "fills", "borders"))
    formats = {int(n.get("numFmtId")): n.get("formatCode") for n in sheet.iter(M + "numFmt")}
    out = []
    for xf in sheet.find(M + "cellXfs"):
        p = {}
        font = fonts[int(xf.get("fontId"))]
        p["font_name"], p["font_size"] = font.find(M + "name").get("val"), float(font.find(M + "sz").get("val"))
        p["bold"] = font.find(M + "b") is not None
        for c in fills[int(xf.get("fillId"))].iter(M + "fgColor"):
            p["bg_color"] = "#" + c.get("rgb")[-6:]
        for side in borders[int(xf.get("borderId"))]:
            name = side.tag[len(M):]
            if name in ("left", "right", "top", "bottom") and side.get("style"):
                p[name] = LINES[side.get("style")]
        if int(xf.get("numFmtId")) in formats:
            p["num_format"] = formats[int(xf.get("numFmtId"))]
        a = xf.find(M + "alignment")
        if a is not None:
            p["text_wrap"], p["indent"] = a.get("wrapText") == "1", int(a.get("indent") or 0)
            p["align"], p["valign"] = a.get("horizontal") or "", {"center": "vcenter"}.get(a.get("vertical"), a.get("vertical"))
        lock = xf.find(M + "protection")
        p["locked"] = lock is None or lock.get("locked") != "0"
        out.append(book.add_format(p))
    return out


def write(sheet, rows, merged):
    for n, height, row in rows:
        sheet.set_row(n, height)
        last = -1
        for col, style, value, formula in row:
            if col <= last:
                continue  # below a merged cell
            if (n, col) in merged:
                last = merged[n, col]
                sheet.merge_range(n, col, n, last, "", style)
            if formula is not None:
                sheet.write_formula(n, col, "=" + formula, style, "" if value is None else value)
            elif value is None:
                sheet.write_blank(n, col, None, style)
            elif isinstance(value, float):
                sheet.write_number(n, col, value, style)
            else:
                sheet.write_string(n, col, value, style)


def cell(c, formats):
    """Column, format, value and formula of a cell."""
    kind, value = c.get("t"), c.findtext(M + "v")
    if kind == "inlineStr":
        value = "".join(t.text or "" for t in c.iter(M + "t"))
    elif kind is None and value is not None:
        value = float(value)
    return place(c.get("r"))[1], formats[int(c.get("s") or 0)], value, c.findtext(M + "f")


def rule(sheet, element, fill):
    """A rule of the sheet, for verdicts or for what is typed."""
    areas = element.get("sqref").split(" ")
    first = areas[0].split(":")
    box = place(first[0]) + place(first[-1])
    if element.tag == M + "conditionalFormatting":
        for r in element:
            options = {"type": "cell", "criteria": "==", "value": "=" + r.findtext(M + "formula"), "format": fill, "multi_range": " ".join(areas)}
            sheet.conditional_format(*box, options)
        return
    options = {"validate": "any"}
    if element.get("type") == "decimal":
        options = {"validate": "decimal", "criteria": "between", "minimum": float(element.findtext(M + "formula1")), "maximum": float(element.findtext(M + "formula2"))}
    options["other_cells"] = [list(place(a.split(":")[0]) + place(a.split(":")[-1])) for a in areas[1:]]
    sheet.data_validation(*box, options)


def copy(part, sheet, formats, fill):
    global cells
    merged = {}
    with part() as f:
        for _, e in iterparse(f):
            if e.tag == M + "mergeCell":
                a, b = e.get("ref").split(":")
                merged[place(a)] = place(b)[1]
            elif e.tag in (M + "row", M + "c"):
                e.clear()
    rows = []
    with part() as f:
        for _, e in iterparse(f):
            if e.tag == M + "row":
                rows.append((int(e.get("r")) - 1, float(e.get("ht")), [cell(c, formats) for c in e]))
                cells += len(e)
                e.clear()
            elif e.tag in (M + "conditionalFormatting", M + "dataValidation"):
                timed(rule, sheet, e, fill)
            if len(rows) == BATCH or e.tag == M + "sheetData":
                timed(write, sheet, rows, merged)
                rows = []
                if e.tag == M + "sheetData":
                    e.clear()


def main(source, target):
    zipped = zipfile.ZipFile(source)
    book = timed(xlsxwriter.Workbook, target, {"constant_memory": True})
    formats = timed(looks, book, fromstring(zipped.read("xl/styles.xml")))
    fill = book.add_format({"bg_color": "#D9D9D9"})
    root = fromstring(zipped.read("xl/workbook.xml"))
    for i, s in enumerate(root.find(M + "sheets")):
        sheet = timed(book.add_worksheet, s.get("name"))
        copy(lambda: zipped.open("xl/worksheets/sheet%d.xml" % (i + 1)), sheet, formats, fill)
    for n in root.iter(M + "definedName"):
        if not n.get("name").startswith("_xlnm"):
            timed(book.define_name, n.get("name"), "=" + n.text)
    timed(book.close)
    print(round(spent * 1000), cells)


main(*sys.argv[1:])
