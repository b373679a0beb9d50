// Package migrations holds the SQL that makes and changes the database, and runs it.
package migrations
