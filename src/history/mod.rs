//! What happened: spans of observation and episodes of failure, out of rows, by SQL.
