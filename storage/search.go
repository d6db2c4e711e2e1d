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
// while other kinds wait.
func (s *Store) Search(ctx context.Context, text string, kind entry.Kind, limit int) ([]entry.RecordID, error) {
	return s.search(ctx, text, kind, limit, merge.Hidden)
}

// SearchAll is Search among those that were retired, too.
func (s *Store) SearchAll(ctx context.Context, text string, kind entry.Kind, limit int) ([]entry.RecordID, error) {
	return s.search(ctx, text, kind, limit, noVisibility)
}

// noVisibility is that of no record.
const noVisibility merge.Visibility = 255

func (s *Store) search(ctx context.Context, text string, kind entry.Kind, limit int, without merge.Visibility) ([]entry.RecordID, error) {
	match := phrase(text)
	if match == "" {
		return nil, nil
	}
	if err := s.indexKind(ctx, kind); err != nil {
		return nil, err
	}
	if limit <= 0 {
		limit = -1
	}
	from, to := keysOf(kind)
	var found []entry.RecordID
	err := s.readers.bind(ctx)(func(scan func(...any) error) error {
		var id []byte
		err := scan(&id)
		found = append(found, entry.RecordID(id))
		return err
	}, `SELECT r.id FROM words JOIN record r ON r.n = words.rowid
		WHERE words MATCH ? AND words.rowid BETWEEN ? AND ? AND r.visibility <> ?
		ORDER BY words.rank, r.n LIMIT ?`, match, from, to, without, limit)
	return found, failure("search", err)
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
