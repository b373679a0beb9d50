// Package workbook reads the spreadsheets people bring and writes those they
// take away.
//
// Reading: Open takes the bytes of a file, xlsx or CSV in any of its dialects,
// and gives its cells as text. Read then finds the row of headings, on whichever
// sheet, matches the columns by what they are called or by what somebody said they
// mean (Choice), and reads every line below. Every line keeps its number in the
// file. A line that cannot be taken says in which column and what would be right;
// nothing here decides against what the drive already holds, that is for package
// drive and the store. What a spreadsheet did to a cell by itself (a length made a
// day, an error, a formula without its value, one cell merged beside several lots)
// is told from what was typed. What is pasted from a spreadsheet is text parted by
// tabs, so Open and Read take it as they take a file; ParseFlaws reads one cell.
//
// Limits: 10 MiB a file, 50,000 lines, 200 columns, 32,767 characters a cell and
// 64 MiB once unpacked. Lengths are read exactly (package length).
package workbook
