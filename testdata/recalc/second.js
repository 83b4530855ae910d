// Reads a workbook's cells and edits as JSON, makes each edit alone in HyperFormula and
// writes what the cells watched then show, as JSON.
const { HyperFormula } = require("hyperformula");
const fs = require("fs");
const { sheets, edits } = JSON.parse(fs.readFileSync(0, "utf8"));
// It reads powers of ten with a small e alone. What stands in quotes stays.
const lower = (f) => f.replace(/"(?:[^"]|"")*"|'(?:[^']|'')*'|\dE(?=[+-]?\d)/g, (m) => (/^["']/.test(m) ? m : m.toLowerCase()));
for (const rows of Object.values(sheets)) {
  for (const row of rows) {
    row.forEach((v, i) => {
      if (typeof v === "string" && v.startsWith("=")) row[i] = lower(v);
    });
  }
}
const book = HyperFormula.buildFromSheets(sheets, { licenseKey: "gpl-v3", dateFormats: [], timeFormats: [], caseSensitive: false });
book.addNamedExpression("TRUE", "=TRUE()");
book.addNamedExpression("FALSE", "=FALSE()");
const at = (c) => ({ sheet: book.getSheetId(c.sheet), row: c.row - 1, col: c.col - 1 });
const shown = (c) => {
  const v = book.getCellValue(at(c));
  return v === null ? "" : typeof v === "object" ? v.value : v === true ? "TRUE" : v === false ? "FALSE" : String(v);
};
const out = edits.map((e) => {
  const was = e.cells.map((c) => book.getCellSerialized(at(c)));
  book.batch(() => e.cells.forEach((c) => book.setCellContents(at(c), c.value)));
  const sees = e.watch.map(shown);
  book.batch(() => e.cells.forEach((c, i) => book.setCellContents(at(c), was[i])));
  return sees;
});
fs.writeSync(1, JSON.stringify(out));
