package node

import (
	"bytes"
	"cmp"
	"encoding/binary"
	"fmt"
	"slices"

	"plumbline/storage"
	"plumbline/sync/entry"
)

// newest writes, in so many bytes, what is newest of the control logs. The peer was
// a member before this laptop was, or hasn't been met since: it holds the older part
// of what both know, and lacks what came after. First come the logs whose grants
// lead to the certificate that the peer is shown, the root's and those of the
// directors on its path, then the others: one director's endless log can't keep out
// those whom somebody else let in.
func newest(from Introducing, certificate []byte, most int) ([]byte, error) {
	cert, err := entry.DecodeCertificate(certificate)
	if err != nil {
		return nil, fmt.Errorf("introduce this laptop: %w", err)
	}
	var leading, others []storage.BranchInfo
	for _, b := range from.Branches() {
		switch id := entry.CertificateOf(b.Standing.Certificate.Encode()); {
		case !b.Control:
		case b.Standing.Root || slices.Contains(cert.Path, id):
			leading = append(leading, b)
		default:
			others = append(others, b)
		}
	}
	w := newestWriter{from: from, left: most - 2*binary.MaxVarintLen64}
	if err := w.add(leading); err != nil {
		return nil, err
	}
	if err := w.add(others); err != nil {
		return nil, err
	}
	out := append(binary.AppendUvarint(nil, w.logs), w.whole...)
	return append(binary.AppendUvarint(out, w.tails), w.parts...), nil
}

// newestWriter writes whole logs and parts of logs while there is room.
type newestWriter struct {
	from         Introducing
	left         int
	whole, parts []byte
	logs, tails  uint64
}

// add shares out what is left: what a short log doesn't need is for longer ones.
func (w *newestWriter) add(logs []storage.BranchInfo) error {
	slices.SortFunc(logs, func(a, b storage.BranchInfo) int {
		return cmp.Or(cmp.Compare(a.Tip.Seq, b.Tip.Seq), bytes.Compare(a.Log[:], b.Log[:]))
	})
	for i, b := range logs {
		if err := w.addTail(b, w.left/(len(logs)-i)); err != nil {
			return err
		}
	}
	return nil
}

// addTail writes the longest end of a log that fits; of one whose last entry is too
// large for that, nothing.
func (w *newestWriter) addTail(b storage.BranchInfo, room int) error {
	starts := w.from.Samples(b.Log, b.Tip)
	slices.Reverse(starts)
	for _, after := range slices.Insert(starts, 0, entry.Point{}) {
		raws, points, err := w.from.Range(b.Log, after, b.Tip, room)
		if err != nil {
			return err
		}
		if len(raws) == 0 || after.Seq+uint64(len(raws)) < b.Tip.Seq {
			continue
		}
		l := introducedLog{log: b.Log, after: after, raws: raws, points: points}
		if after.Seq == 0 {
			if whole := l.append(nil); len(whole) <= room {
				w.whole, w.logs, w.left = append(w.whole, whole...), w.logs+1, w.left-len(whole)
				return nil
			}
			continue
		}
		if part := l.appendPart(nil); len(part) <= room {
			w.parts, w.tails, w.left = append(w.parts, part...), w.tails+1, w.left-len(part)
			return nil
		}
	}
	return nil
}
