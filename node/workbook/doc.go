// Package workbook reads one sheet of a workbook (XLSX, ECMA-376) as rows of
// text. Start at [Read]; archive.go finds the parts in the file, sheet.go goes
// through the cells, format.go says which numbers are days or times.
//
// Reading never lays a sheet out in memory and reads no further than its bounds: 100 kB
// of a file can hold hundreds of millions of cells. The library that writes our
// workbooks tells neither the formula nor the number format of a cell without
// doing just that, which is why it isn't asked here.
//
// The package refuses to calculate: what a formula came to is whatever program
// saved the file last, so a cell with a formula has a fault instead of a value.
package workbook
