package node

import (
	"crypto/hmac"
	"crypto/sha256"

	"plumbline/sync/entry"
)

// dialCode makes the dialler's code over a connection as ledger rule 26 has it,
// apart from the code that checks it.
func dialCode(key [32]byte, staff entry.StaffID, e []byte) []byte {
	mac := hmac.New(sha256.New, key[:])
	mac.Write([]byte("plumbline link code v1\x00d"))
	mac.Write(staff[:])
	mac.Write(e)
	return mac.Sum(nil)
}
