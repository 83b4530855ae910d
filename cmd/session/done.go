package session

import (
	"handback/records/chain"
)

// Done is what a command has done, for who reads its answer as JSON.
type Done struct {
	Job     string        // of the entries, by its id in this book
	Entries []chain.Entry // that were added to the record
	Files   []string      // that were made
}

// Added remembers entries that were added to a job.
func (env *Env) Added(job string, entries ...chain.Entry) {
	if env.Done != nil {
		env.Done.Job, env.Done.Entries = job, append(env.Done.Entries, entries...)
	}
}

// Made remembers a file that was made.
func (env *Env) Made(path string) {
	if env.Done != nil {
		env.Done.Files = append(env.Done.Files, path)
	}
}
