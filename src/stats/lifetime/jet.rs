//! A function's value with its first two derivatives: what Newton's method needs of every term of a likelihood.

/// Value, first and second derivative by the argument.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Jet {
    /// The value.
    pub value: f64,
    /// The first derivative.
    pub slope: f64,
    /// The second derivative.
    pub bend: f64,
}
