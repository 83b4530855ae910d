package cmd

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"handback/checks/plan"
	"handback/checks/written"
	"handback/cmd/session"
	"handback/records/chain"
)

// readPlan reads and loads a plan file that is to be worked by: what speaks against
// that is an error too.
func readPlan(env *session.Env, file string) ([]byte, *plan.Plan, error) {
	data, err := gathered(env, file)
	if err != nil {
		return nil, nil, err
	}
	plan, err := loadToWork(inputName(file), data)
	if err != nil {
		return nil, nil, err
	}
	return data, plan, nil
}

// loadPlan reads and loads a plan file, whatever speaks against working by it.
func loadPlan(env *session.Env, file string) (*plan.Plan, error) {
	data, err := gathered(env, file)
	if err != nil {
		return nil, err
	}
	return plan.Load(inputName(file), data)
}

// loadToWork loads a plan; what speaks against working by it is an error.
func loadToWork(file string, data []byte) (*plan.Plan, error) {
	p, err := plan.Load(file, data)
	if err == nil && len(p.Objections()) > 0 {
		err = p.Objections()
	}
	return p, err
}

// gathered reads a plan file, - for stdin, with all that it includes, as a job holds it. Every
// plan of a command line comes through here.
func gathered(env *session.Env, file string) ([]byte, error) {
	data, err := readInput(env, file, chain.MaxPlan)
	if err != nil {
		return nil, fmt.Errorf("plan %w", err)
	}
	whole, err := written.Gather(data, besidePlan(filepath.Dir(file)))
	if err != nil {
		return nil, fmt.Errorf("plan %s: %w", file, err)
	}
	return whole, nil
}

// besidePlan is the folder of a plan, as far as a plan may read: no link leads out of it.
type besidePlan string

// mostListed bounds the files of a folder that are looked through.
const mostListed = 5000

// List names the plain files of a folder below.
func (b besidePlan) List(folder string) ([]string, error) {
	root, err := os.OpenRoot(string(b))
	if err != nil {
		return nil, plainPathError(err)
	}
	defer root.Close()
	f, err := root.Open(filepath.FromSlash(folder))
	if err != nil {
		return nil, plainPathError(err)
	}
	defer f.Close()
	list, err := f.ReadDir(mostListed + 1)
	if err != nil && err != io.EOF {
		return nil, plainPathError(err)
	}
	if len(list) > mostListed {
		return nil, fmt.Errorf("it holds more than %d files", mostListed)
	}
	var out []string
	for _, e := range list {
		if !e.IsDir() {
			out = append(out, e.Name())
		}
	}
	return out, nil
}

// Read reads a plain file below.
func (b besidePlan) Read(file string) ([]byte, error) {
	root, err := os.OpenRoot(string(b))
	if err != nil {
		return nil, plainPathError(err)
	}
	defer root.Close()
	name := filepath.FromSlash(file)
	info, err := root.Stat(name) // before it is opened: opening a device or a pipe may do something, or wait
	if err != nil {
		return nil, plainPathError(err)
	}
	if err := plainFile(info, chain.MaxPlan, 0); err != nil {
		return nil, err
	}
	f, err := root.Open(name)
	if err != nil {
		return nil, plainPathError(err)
	}
	defer f.Close()
	return readUpTo(f, chain.MaxPlan)
}
