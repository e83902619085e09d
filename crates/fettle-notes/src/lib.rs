//! The service-notes format: parse, check, error with the source line.
