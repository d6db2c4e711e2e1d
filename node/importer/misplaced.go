package importer

// Misplaced is the error of a table whose columns, or what was said of them, can't be
// placed. It matches [ErrTable]. Besides its sentence it tells the parts, for clients
// that have their own way to say what goes where.
type Misplaced struct {
	sentence string
	// Unknown are columns that are no field and are mapped to none.
	Unknown []Misfit
	// Unset are names of [Options.Defaults] that are no field.
	Unset []Misfit
	// Unheard are headers of [Options.Map] that the table doesn't have; near them are
	// some that it has.
	Unheard []Misfit
	// Twice are two columns that mean one field.
	Twice []string
	// Missing are fields that a column, or a default, must give.
	Missing []string
	// Each are those of Missing that tell the rows apart: one value for all of them
	// would enter one record many times, or make all of them one.
	Each []string
	// Fields are those that the table may have, where something is none.
	Fields []string
}

// Misfit is a name and those that may have been meant.
type Misfit struct {
	Name string
	Near []string
}

func (m *Misplaced) Error() string { return m.sentence }
func (m *Misplaced) Unwrap() error { return ErrTable }

func (o Options) misplaced(m Misplaced, format string, args ...any) error {
	m.sentence = o.refuse(format, args...).Error()
	return &m
}
