package walk

import (
	"context"
	"fmt"
)

// photos asks for the photographs that a check still lacks, of every judged check for
// "". One that is left open keeps the hold points below it closed.
func (w *walker) photos(ctx context.Context, check string) error {
	for _, c := range w.Job.Plan.Checks() {
		if check != "" && c.ID != check || check == "" && w.Job.State(c.ID).LastJudged() == nil {
			continue
		}
		for _, photo := range w.Job.PhotosMissing(w.Job.State(c.ID)) {
			if err := w.onePhoto(ctx, c.ID, photo); err != nil {
				return err
			}
		}
	}
	return nil
}

// onePhoto asks for the file of a photograph until it is attached or left open.
func (w *walker) onePhoto(ctx context.Context, check, photo string) error {
	for {
		file, err := w.in.Prompt(ctx, fmt.Sprintf("  photograph of %s, %s [its file; Enter to leave it open]: ", check, photo))
		if err != nil {
			return err
		}
		switch file {
		case "":
			return nil
		case "quit":
			return errQuit
		}
		draft, err := w.photo(w.Job, w.Job.Plan.Check(check), photo, file)
		if err != nil {
			w.in.Refuse("  %v\n", err)
			continue
		}
		if err := w.recordAll(ctx, draft); err != nil {
			return err
		}
		fmt.Fprintf(w.Env.Out, "  attached: %s\n", photo)
		return nil
	}
}
