package sim

import "testing"

// How many worlds of three laptops one core gets through in a second.
func BenchmarkWorlds(b *testing.B) {
	for name, database := range map[string]bool{"memory": false, "database": true} {
		b.Run(name, func(b *testing.B) {
			folder := fastFolder(b)
			entries := 0
			for seed := uint64(0); b.Loop(); seed++ {
				p := Draw(seed)
				p.Laptops, p.Long, p.Databases = 3, false, []bool{database}
				r := Run(p, Options{Folder: folder})
				if r.Failure != nil {
					b.Fatalf("seed %d: %s", seed, r.Failure)
				}
				entries += r.Entries
			}
			b.ReportMetric(float64(entries)/float64(b.N), "entries/world")
		})
	}
}
