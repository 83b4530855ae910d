package cmd

import (
	"context"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/records/archive"
	"handback/report/export"
	"handback/report/files"
)

type archiveExportOptions struct {
	*archiveAt
	out   string
	lines bool
}

func newArchiveExport(at *archiveAt) *cobra.Command {
	o := &archiveExportOptions{archiveAt: at}
	c := &cobra.Command{
		Use: "export", Short: "give the rows of the archive to other systems", Args: exactly(),
		Long: `Write every table of the archive into a folder, a file a table, as it all stood at one
moment: CSV, with csv-metadata.json, which describes columns, datatypes, keys and how the
tables hang together, after the W3C's Metadata Vocabulary for Tabular Data; or with
--lines a JSON object a line. Tables hold the newest states of jobs; the table states
holds all. A folder that is there already is never written over. The same archive gives
the same bytes.`,
		Example: "  handback archive export -o archive-data\n  handback archive export --lines -o archive-lines",
		RunE:    taking(runArchiveExport, o),
	}
	c.Flags().StringVarP(&o.out, "output", "o", "", "folder to make")
	c.Flags().BoolVar(&o.lines, "lines", false, "lines of JSON in place of CSV")
	return c
}

func runArchiveExport(ctx context.Context, o *archiveExportOptions) error {
	if o.out == "" || o.out == "-" {
		return session.Usagef("archive export takes -o FOLDER; type: %s", o.hint("export", "-o", "archive-data"))
	}
	return o.reading(ctx, func(a *archive.Archive) error {
		err := files.WriteFolder(o.out, over(o.env, output{}, false), func(put func(string, func(io.Writer) error) error) error {
			return export.Archive(ctx, a, o.lines, put)
		})
		if err != nil {
			return err
		}
		_, err = fmt.Fprintln(o.env.Out, o.out)
		return err
	})
}
