"""Writes the cells of a workbook again with Python's XlsxWriter, to compare time and
memory with ours: the same sheets, texts, numbers, formulas with their results, merged
cells and row heights, one format a style. Charts and rules are left out.

    python3 workbook_xlsxwriter.py handover.xlsx     (Debian: python3-xlsxwriter)

Prints cells, median seconds of five, and the peak memory of the process in MiB beyond
what stood before the first writing.
"""
import html
import io
import re
import resource
import statistics
import sys
import time
import zipfile

import xlsxwriter

CELL = re.compile(r'<c ([^>]*?)(?:/>|>(.*?)</c>)', re.S)
ROW = re.compile(r'<row ([^>]*)>(.*?)</row>', re.S)


def attribute(text, name):
    found = re.search(r'\b%s="([^"]*)"' % name, text)
    return found.group(1) if found else ""


def inside(text, tag):
    found = re.search(r'<%s(?: [^>]*)?>(.*?)</%s>' % (tag, tag), text, re.S)
    return html.unescape(found.group(1)) if found else None


def sheets(path):
    book = zipfile.ZipFile(path)
    names = re.findall(r'<sheet [^>]*?name="([^"]*)"', book.read("xl/workbook.xml").decode())
    for number, name in enumerate(names, 1):
        text = book.read("xl/worksheets/sheet%d.xml" % number).decode()
        rows = []
        for head, body in ROW.findall(text):
            cells = []
            for attrs, content in CELL.findall(body):
                value, formula = inside(content, "v"), inside(content, "f")
                if attribute(attrs, "t") == "inlineStr":
                    value = inside(content, "t") or ""
                elif value is not None and attribute(attrs, "t") == "":
                    value = float(value)
                cells.append((attribute(attrs, "r"), int(attribute(attrs, "s") or 0), value, formula))
            rows.append((int(attribute(head, "r")) - 1, float(attribute(head, "ht") or 15), cells))
        yield html.unescape(name), rows, re.findall(r'<mergeCell ref="([^"]*)"', text)


def write(data):
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    formats = {}
    for name, rows, merged in data:
        sheet = book.add_worksheet(name)
        heads = {area.split(":")[0]: area for area in merged}
        for row, height, cells in rows:
            sheet.set_row(row, height)
            for ref, style, value, formula in cells:
                if style not in formats:
                    formats[style] = book.add_format({"font_name": "Arial", "font_size": 9, "border": 1, "text_wrap": True})
                if ref in heads:
                    sheet.merge_range(heads[ref], "", formats[style])
                if formula:
                    sheet.write_formula(ref, "=" + formula, formats[style], value if value is not None else "")
                elif isinstance(value, float):
                    sheet.write_number(ref, value, formats[style])
                elif value:
                    sheet.write_string(ref, value, formats[style])
                elif ref not in heads:
                    sheet.write_blank(ref, None, formats[style])
    book.close()
    return len(out.getvalue())


data = list(sheets(sys.argv[1]))
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
took = []
for _ in range(5):
    start = time.perf_counter()
    size = write(data)
    took.append(time.perf_counter() - start)
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
count = sum(len(cells) for _, rows, _ in data for _, _, cells in rows)
print("%d cells, %.3f s, %.0f MiB, %d bytes" % (count, statistics.median(took), (peak - before) / 1024, size))
