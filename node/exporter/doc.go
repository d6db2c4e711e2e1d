// Package exporter writes rows of values as a workbook (XLSX). Start at [Workbook].
//
// It refuses to write what another program would calculate: a text stays a text,
// whatever it begins with, and what a cell can't hold isn't cut but an error. Large
// sheets pass through temporary files of the library.
package exporter
