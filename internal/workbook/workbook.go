// Package workbook reads the spreadsheets people bring and writes those they
// take away.
//
// Reading: Open takes the bytes of a file, xlsx or CSV in any of its dialects,
// and gives its cells as text; Fabric, Donors, People and Asked then find the
// row of headings, match the columns by what they are called and read every
// line below. Every line keeps its number in the file. A line that cannot be
// taken says in which column and what would be right; nothing here decides
// against what the drive already holds, that is for package drive and the store.
//
// Limits: 10 MiB a file, 50,000 lines, 200 columns, 32,767 characters a cell and
// 64 MiB once unpacked. Lengths are read exactly (package length).
package workbook
