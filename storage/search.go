package storage

import (
	"context"
	"strings"
	"unicode"

	"plumbline/sync/entry"
	"plumbline/sync/merge"
)

// Search finds visible records of a kind (0: of any) that hold words beginning
// with each of the given ones, the best match first; all for limit 0. It first
// adds to the index what isn't in there yet of that kind. How much a word says is
// counted over all that is in there, so that of many matches others may come first
// while other kinds wait. Where the disk takes no words, what waits for the index is
// searched in memory, and comes first: up to limit of these besides.
func (s *Store) Search(ctx context.Context, text string, kind entry.Kind, limit int) ([]entry.RecordID, error) {
	return s.search(ctx, text, kind, limit, merge.Hidden)
}

// SearchAll is Search among those that were retired, too.
func (s *Store) SearchAll(ctx context.Context, text string, kind entry.Kind, limit int) ([]entry.RecordID, error) {
	return s.search(ctx, text, kind, limit, noVisibility)
}

// noVisibility is that of no record.
const noVisibility merge.Visibility = 255

func (s *Store) search(ctx context.Context, text string, kind entry.Kind, limit int, without merge.Visibility) (found []entry.RecordID, err error) {
	of := searched{phrase(text), kind, limit, without}
	if of.match == "" {
		return nil, nil
	}
	if err = s.indexKind(ctx, kind); RefusedByDisk(err) {
		found, err = s.searchWaiting(ctx, of)
		return found, failure("search", err)
	}
	if err != nil {
		return nil, err
	}
	found, err = of.indexed(s.readers.bind(ctx), "")
	return found, failure("search", err)
}

// searched is what is looked for.
type searched struct {
	match   string
	kind    entry.Kind
	limit   int
	without merge.Visibility
}

// indexed looks into the search index.
func (of searched) indexed(q querier, where string) (found []entry.RecordID, err error) {
	from, to := keysOf(of.kind)
	limit := of.limit
	if limit <= 0 {
		limit = -1
	}
	err = q(func(scan func(...any) error) error {
		var id []byte
		err := scan(&id)
		found = append(found, entry.RecordID(id))
		return err
	}, `SELECT r.id FROM words JOIN record r ON r.n = words.rowid
		WHERE words MATCH ? AND words.rowid BETWEEN ? AND ? AND r.visibility <> ? `+where+`
		ORDER BY words.rank, r.n LIMIT ?`, of.match, from, to, of.without, limit)
	return found, err
}

// phrase turns what a person typed into a query. Every word is quoted, so that
// none of it is taken for syntax; words without a letter or digit are left
// out, since the index has none of them.
func phrase(text string) string {
	var words []string
	for word := range strings.FieldsSeq(text) {
		word = strings.ReplaceAll(strings.ToValidUTF8(word, ""), "\x00", "")
		if strings.ContainsFunc(word, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsNumber(r) }) {
			words = append(words, `"`+strings.ReplaceAll(word, `"`, `""`)+`"*`)
		}
	}
	return strings.Join(words, " ")
}
