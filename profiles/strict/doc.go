// Package strict reads the files that people write for restpoint: YAML, but
// only the part of it that cannot surprise.
//
// The text is decoded once into nodes; a cursor (Map, Value) reads them where
// they are needed and says there what is required, in which unit and in which
// range. Everything that is wrong is collected, each with its file, line,
// column and path, so that a brewer mends a file in one go. Items of a list are
// counted from 1 in paths, as people count.
//
// The package refuses to guess. A key without a value never becomes 0 C; null,
// a key given twice, a key that nobody asked for, a number without the unit it
// needs, NaN and infinity, anchors, aliases, merge keys and tags, a second
// document, tabs, invisible characters and files above 64 KiB are errors. It is
// the only importer of the YAML library and knows nothing of beer.
package strict
