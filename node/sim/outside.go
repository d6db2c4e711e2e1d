package sim

// outside is the token's half beside the data folder.
type outside struct {
	half   []byte
	faults *faults
}

func (o *outside) Leave(half []byte) error {
	if o.faults.moment("before write") {
		panic(died{})
	}
	o.half = half
	return nil
}

func (o *outside) Take() ([]byte, error) {
	if o.faults.moment("before write") {
		panic(died{})
	}
	half := o.half
	o.half = nil
	return half, nil
}
