//! Pure numbers: no input or output, no trade words, no clock, no unseeded generator. One file a family of methods.
