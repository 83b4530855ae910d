#!/usr/bin/env bash
# Draws the pictures of the page and the field sheet that README.md shows, from the
# demo. Needs Go, chromium, soffice and pdftoppm. The cover is drawn by go test.
set -euo pipefail
cd "$(dirname "$0")/../.."
dir=$(mktemp -d)
trap 'rm -rf "$dir"' EXIT
go build -o "$dir/handback" ./cmd/handback
"$dir/handback" demo -o "$dir/demo" >/dev/null
chromium --headless --no-sandbox --disable-gpu --disable-quic --no-first-run --disable-background-networking \
  --disable-component-update --disable-sync --user-data-dir="$dir/profile" --window-size=900,3400 \
  --print-to-pdf="$dir/page.pdf" --no-pdf-header-footer "file://$dir/demo/handover.html" >/dev/null 2>&1
draw_page_with() { # words, PDF, picture: the first page after the first that holds the words
  for n in $(seq 2 60); do
    if pdftotext -f "$n" -l "$n" "$2" - 2>/dev/null | grep -q "$1"; then
      pdftoppm -r 75 -f "$n" -l "$n" -png -singlefile "$2" "$3"
      return
    fi
  done
  echo "no page of $2 holds: $1" >&2
  exit 1
}
draw_page_with 'Phasors' "$dir/page.pdf" testdata/pictures/page
"$dir/handback" --book "$dir/fresh.db" open testdata/demo/plan.yaml >"$dir/job"
"$dir/handback" --book "$dir/fresh.db" sheet "$(cat "$dir/job")" -o "$dir/sheet.xlsx"
soffice "-env:UserInstallation=file://$dir/office" --headless --norestore --convert-to pdf --outdir "$dir" "$dir/sheet.xlsx" >/dev/null 2>&1
draw_page_with 'T2 volts at no load' "$dir/sheet.pdf" testdata/pictures/sheet
ls -l testdata/pictures
