package node

import (
	"strings"

	"plumbline/node/record"
	"plumbline/storage"
	"plumbline/sync/entry"
)

// projector tells the storage which words to index and what to summarize. A
// change of its answers needs a new version.
type projector struct{}

// Projector returns what a laptop's database is opened with.
func Projector() storage.Projector { return projector{} }

func (projector) Version() int { return 3 }

// Words returns every live value of names and prose: what two people wrote
// differently is found by either.
func (projector) Words(id entry.RecordID, live []entry.Change) string {
	k, ok := record.Stored().KindOf(id)
	if !ok {
		return ""
	}
	var words []string
	for _, v := range live {
		known, ok := k.At(v.Register)
		if !ok || !known.Field.IsIndexed() {
			continue
		}
		if text, err := known.Text(record.Value{Op: v.Op, Bytes: v.Value}); err == nil {
			words = append(words, text)
		}
	}
	return strings.Join(words, "\n")
}

func (projector) Summarized(kind entry.Kind) bool { return kind == record.Prospect }
