package exchange

import "plumbline/sync/entry"

// Memory is the plainest [Holdings]: maps, no judgement, nothing durable.
type Memory struct{ staff entry.StaffID }

// NewMemory returns empty holdings of a staff.
func NewMemory(staff entry.StaffID) *Memory { return &Memory{staff: staff} }
