//! The record: cameras, owners, visits, readings, files and the journal, in one folder.
