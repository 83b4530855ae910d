package walk

import (
	"context"
	"fmt"

	"handback/checks/plan"
)

// photos asks for the photographs that a check or a step still lacks, of every one that
// was judged or done for "". One that is left open keeps the hold points below it closed.
func (w *walker) photos(ctx context.Context, id string) error {
	for _, it := range w.Job.Plan.Items() {
		if id != "" && it.ID() != id {
			continue
		}
		for _, photo := range w.lacking(it, id != "") {
			if err := w.onePhoto(ctx, it, photo); err != nil {
				return err
			}
		}
	}
	return nil
}

// lacking are the photographs that an item lacks; of a check that is not judged, those
// when it is named alone.
func (w *walker) lacking(it plan.Item, named bool) []string {
	if it.Check == nil {
		if _, done := w.Job.Steps[it.ID()]; !done {
			return nil
		}
		return w.Job.StepPhotosMissing(it.Does())
	}
	s := w.Job.State(it.ID())
	if !named && s.LastJudged() == nil {
		return nil
	}
	return w.Job.PhotosMissing(s)
}

// onePhoto asks for the file of a photograph until it is attached or left open.
func (w *walker) onePhoto(ctx context.Context, of plan.Item, photo string) error {
	for {
		file, err := w.in.Prompt(ctx, fmt.Sprintf("  photograph of %s, %s [its file; Enter to leave it open]: ", of.ID(), photo))
		if err != nil {
			return err
		}
		switch file {
		case "":
			return nil
		case "quit":
			return errQuit
		}
		draft, err := w.photo(w.Job, of, photo, file)
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
