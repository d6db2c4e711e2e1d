package mergetest

import (
	"slices"

	"pgregory.net/rapid"

	"plumbline/sync/entry"
)

func (h *History) openLog() {
	d := Pick(h.t, "device", h.Devices)
	cert := Pick(h.t, "certificate", h.certs[d.ID()])
	if rapid.Bool().Draw(h.t, "control") {
		h.Control = append(h.Control, h.Open(d, cert, true))
	} else {
		h.Data = append(h.Data, h.Open(d, cert, false))
	}
}

// admit grants a certificate, an old one again or a new one of any rank.
func (h *History) admit() {
	d := Pick(h.t, "device", h.Devices)
	certs := h.certs[d.ID()]
	cert := Pick(h.t, "certificate", certs)
	if rapid.Bool().Draw(h.t, "new") {
		role := Pick(h.t, "role", []entry.Role{entry.RoleScout, entry.RoleDirector, 9})
		cert = h.Certificate(d, role, Pick(h.t, "generation", []uint64{0, 0, 0, 1}), rapid.IntRange(1, 4).Draw(h.t, "depth"))
		h.certs[d.ID()] = append(certs, cert)
		h.Data = append(h.Data, h.Open(d, cert, false))
		h.Control = append(h.Control, h.Open(d, cert, true))
	}
	Pick(h.t, "by", h.Control).Grant(cert, Some(h.t, "readmits", h.Cuts, 2)...)
}

func (h *History) cutDevice() {
	d := Pick(h.t, "device", h.Devices)
	heads := Some(h.t, "heads", h.by(d), 5)
	if rapid.Bool().Draw(h.t, "of a forked log") {
		if forked := forked(h.by(d)); len(forked) > 0 {
			heads = append(heads, Pick(h.t, "head", forked))
		}
	}
	h.cut(d, heads, Some(h.t, "replaces", h.Cuts, 1))
}

func (h *History) cut(d Device, heads, replaces []*Fact) {
	beyond := Pick(h.t, "beyond", []entry.Beyond{entry.BeyondNothing, entry.BeyondScout})
	h.Cuts = append(h.Cuts, Pick(h.t, "by", h.Control).Cut(d, beyond, heads, replaces...))
}

// raiseCut writes a cut that accepts more than an earlier one, if only just.
func (h *History) raiseCut() {
	if len(h.Cuts) == 0 {
		return
	}
	low := Pick(h.t, "raised", h.Cuts)
	heads := h.That(func(f *Fact) bool { return slices.Contains(low.Says.Cut.Heads, f.ID) })
	for i, head := range heads {
		heads[i] = Pick(h.t, "later head", h.That(func(f *Fact) bool {
			for f != nil && f != head {
				f = f.Prev
			}
			return f == head
		}))
	}
	h.cut(h.DeviceOf(low), heads, []*Fact{low})
}

// DeviceOf returns the device that a cut is about.
func (h *History) DeviceOf(cut *Fact) Device {
	return h.Devices[slices.IndexFunc(h.Devices, func(d Device) bool { return d.ID() == cut.Says.Cut.Device })]
}

func (h *History) erase() {
	var e entry.Erasure
	for _, f := range Some(h.t, "erased", h.That(func(f *Fact) bool { return f.Says.Kind == entry.KindChanges }), 2) {
		e.Entries = append(e.Entries, Erased(f))
	}
	if rapid.IntRange(0, 4).Draw(h.t, "whole record") == 0 {
		e.Records = []entry.RecordID{Pick(h.t, "erased record", append(h.Records[:len(h.Records):len(h.Records)], Prospect(9)))}
	}
	Pick(h.t, "by", h.Control).Erase(e)
}
